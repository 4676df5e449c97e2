#pragma once

#include <optional>
#include <utility>
#include <variant>

#include "core/base/bug.h"
#include "core/base/text.h"

namespace setwright::base {

/// Why there is no answer; decides the exit code of the command line (design: 1 none or failed, 2 bad input, 3 our
/// bug).
enum class ErrorKind { bad_input, none_possible, not_yet, cancelled };

struct Error {
    ErrorKind kind = ErrorKind::bad_input;
    Text text;
};

inline Error bad_input(Text text) {
    return {ErrorKind::bad_input, std::move(text)};
}

/// A value from outside data, or the reason why there is none.
template <class T>
class [[nodiscard]] Result {
  public:
    Result(T value) : content_(std::in_place_index<0>, std::move(value)) {}
    Result(Error error) : content_(std::in_place_index<1>, std::move(error)) {}

    bool ok() const { return content_.index() == 0; }
    explicit operator bool() const { return ok(); }

    const T& value() const& {
        SETWRIGHT_ASSERT(ok(), "value() of a failed result");
        return std::get<0>(content_);
    }
    T& value() & {
        SETWRIGHT_ASSERT(ok(), "value() of a failed result");
        return std::get<0>(content_);
    }
    T&& value() && {
        SETWRIGHT_ASSERT(ok(), "value() of a failed result");
        return std::get<0>(std::move(content_));
    }
    const T& operator*() const& { return value(); }
    T& operator*() & { return value(); }
    T&& operator*() && { return std::move(*this).value(); }
    const T* operator->() const { return &value(); }
    T* operator->() { return &value(); }

    const Error& error() const {
        SETWRIGHT_ASSERT(!ok(), "error() of a good result");
        return std::get<1>(content_);
    }

  private:
    std::variant<T, Error> content_;
};

/// Success without a value, or the reason of failure.
template <>
class [[nodiscard]] Result<void> {
  public:
    Result() = default;
    Result(Error error) : error_(std::move(error)) {}

    bool ok() const { return !error_; }
    explicit operator bool() const { return ok(); }
    const Error& error() const {
        SETWRIGHT_ASSERT(!ok(), "error() of a good result");
        return *error_;
    }

  private:
    std::optional<Error> error_;
};

}  // namespace setwright::base
