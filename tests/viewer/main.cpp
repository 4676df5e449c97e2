#include <gtest/gtest.h>

#include <QApplication>

int main(int argc, char** argv) {
    // Views that need a display ask for one themselves.
    if (!qEnvironmentVariableIsSet("QT_QPA_PLATFORM")) qputenv("QT_QPA_PLATFORM", "offscreen");
    qputenv("SETWRIGHT_WORKER", SETWRIGHT_WORKER);
    ::testing::InitGoogleTest(&argc, argv);
    QApplication application(argc, argv);
    return RUN_ALL_TESTS();
}
