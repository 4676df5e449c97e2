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

Finding& add_finding(std::vector<Finding>& findings, StageId stage, std::string rule, Verdict verdict,
                     base::Text text) {
    Finding finding;
    finding.rule = std::move(rule);
    finding.verdict = verdict;
    finding.stage = stage;
    finding.text = std::move(text);
    findings.push_back(std::move(finding));
    return findings.back();
}

}  // namespace setwright::check
