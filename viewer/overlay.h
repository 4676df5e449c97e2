#pragma once

#include <optional>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "viewer/scene.h"

namespace setwright::viewer {

/// Good and bad differ in sign as well as in colour: bad is crossed or dashed.
enum class Tone { plain, good, warn, bad };

/// What lies over the scene for the moment: selection, what is dragged, what the checks point at. In T, mm.
struct Overlay {
    /// A body that is being moved or offered.
    struct Ghost {
        std::shared_ptr<const Shape> shape;
        space::Pose X_TS;
        Tone tone = Tone::plain;
    };
    /// Between two points, its length written beside it.
    struct Measure {
        space::Vec3 from, to;
        std::string text;
        Tone tone = Tone::plain;
    };
    /// Where a face touches: a small disc on the contact, its patch where it has one.
    struct Touch {
        space::Vec3 at, normal;
        std::vector<space::Vec3> patch;
        Tone tone = Tone::good;
    };
    /// Places that can be clicked: seats offered, numbered from 1 where `text` says so.
    struct Spot {
        space::Vec3 at;
        std::string text;
        Tone tone = Tone::plain;
    };
    /// "Can still move this way": straight both ways along `axis`, or turning about it.
    struct Motion {
        space::Vec3 at, axis;
        bool turns = false;
    };
    /// Sentence beside a point, up to three short lines.
    struct Note {
        space::Vec3 at;
        std::string text;
        Tone tone = Tone::plain;
    };

    std::vector<Ghost> ghosts;
    std::vector<Measure> measures;
    std::vector<Touch> touches;
    std::vector<Spot> spots;
    std::vector<Motion> motions;
    std::vector<Note> notes;
    /// Lines along seams or edges worth seeing.
    std::vector<std::vector<space::Vec3>> lines;
    std::set<ItemId> selected;
    std::optional<ItemId> hovered;
    /// Face of a piece under the pointer, or chosen.
    std::optional<std::pair<PieceId, int>> face;
    std::optional<shop::Hole> hole;
    /// Items that are not drawn now because their ghosts are.
    std::set<ItemId> hidden;
};

}  // namespace setwright::viewer
