#include "app/words.h"

namespace setwright::app {

QString Words::operator()(const std::string& id, std::map<std::string, base::TextArgument> arguments) const {
    return (*this)(base::Text{id, std::move(arguments)});
}

QString Words::operator()(const base::Text& text) const {
    return QString::fromStdString(texts_.render(text, unit_));
}

QString Words::length(double mm) const {
    return QString::fromStdString(base::format_length_with_unit(mm, unit_));
}

}  // namespace setwright::app
