#pragma once

#include <compare>
#include <cstdint>
#include <functional>

namespace setwright::base {

/// A number given once, stored in the job file and never reused. 0 is "none". Ids of different kinds do not mix.
template <class Tag>
struct Id {
    std::uint32_t value = 0;

    constexpr bool valid() const { return value != 0; }
    friend constexpr auto operator<=>(Id, Id) = default;
};

}  // namespace setwright::base

template <class Tag>
struct std::hash<setwright::base::Id<Tag>> {
    std::size_t operator()(setwright::base::Id<Tag> id) const noexcept { return std::hash<std::uint32_t>{}(id.value); }
};
