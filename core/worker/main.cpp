#include <cstdio>

int main() {
    std::fputs("setwright-worker is started by Setwright; it has no use by hand\n", stderr);
    return 2;
}
