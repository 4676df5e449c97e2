#include "core/check/finding.h"

namespace setwright::check {

const char* key(Verdict verdict) {
    switch (verdict) {
        case Verdict::pass:
            return "pass";
        case Verdict::warn:
            return "warn";
        case Verdict::fail:
            return "fail";
        case Verdict::not_run:
            return "not_run";
        case Verdict::cancelled:
            return "cancelled";
    }
    return "not_run";
}

}  // namespace setwright::check
