#pragma once

#include <array>
#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "core/base/units.h"
#include "core/setup/seat.h"
#include "core/shop/catalogue.h"
#include "core/shop/shelf.h"
#include "core/shop/table.h"
#include "core/weldment/recognise.h"

namespace setwright::setup {

using WeldmentId = base::Id<struct WeldmentTag>;
using StageId = base::Id<struct StageTag>;
using StepId = base::Id<struct StepTag>;
using weldment::SeamId;

/// What the user changed about one piece of the model.
struct PieceEdit {
    std::string name;
    bool left_out = false;
    /// Face that carries the tube's long weld.
    std::optional<FaceKey> weld_side;
    friend bool operator==(const PieceEdit&, const PieceEdit&) = default;
};

struct SeamEdit {
    std::optional<bool> accepted;
    std::optional<double> size_mm;
    friend bool operator==(const SeamEdit&, const SeamEdit&) = default;
};

/// A piece drawn without STEP.
struct DrawnPiece {
    PieceId id;
    std::string name;
    weldment::Section section;
    double length_mm = 0;
    std::array<weldment::EndCut, 2> ends;
    space::Pose X_MP;
};

/// A face that must be right, and how right.
struct ImportantFace {
    PieceId piece;
    FaceKey face;
    double tolerance_mm = 0.5;
    std::string note;
    friend bool operator==(const ImportantFace&, const ImportantFace&) = default;
};

/// One weldment with its source. `model` is derived from the text and the edits; it is shared and never written.
struct WeldmentUse {
    WeldmentId id;
    std::string file_name;
    /// Path to watch for changes; "" where the job stands alone.
    std::string linked_path;
    /// The STEP text, whole, and its SHA-256.
    std::shared_ptr<const std::string> step_text;
    std::string sha256;
    double unit_factor = 1;
    bool mirrored = false;
    std::map<PieceId, PieceEdit> piece_edits;
    std::map<SeamId, SeamEdit> seam_edits;
    /// Ids were given once; re-import matches them by fingerprint. P's axes are frozen with them.
    struct Frozen {
        weldment::Fingerprint fingerprint;
        space::Pose X_MP;
    };
    std::map<PieceId, Frozen> frozen;
    /// The same for seams: between which pieces, and where.
    struct FrozenSeam {
        std::array<PieceId, 2> pieces;
        /// Middle of the seam's path by length.
        space::Vec3 middle_M = space::Vec3::Zero();
        double length_mm = 0;
        friend bool operator==(const FrozenSeam&, const FrozenSeam&) = default;
    };
    std::map<SeamId, FrozenSeam> frozen_seams;
    std::vector<DrawnPiece> drawn;
    std::vector<ImportantFace> important;

    std::shared_ptr<const weldment::Weldment> model;
};

enum class HeldBy { set_up, nested, by_hand };
const char* key(HeldBy held_by);

/// A component in a seat. `no` is the number on the drawing: display, not identity.
struct Placement {
    PlacementId id;
    int no = 0;
    /// Key into Setup::components.
    std::string component;
    Seat seat;
    bool locked = false;
    std::string note;
    friend bool operator==(const Placement&, const Placement&) = default;
};

enum class StepKind {
    set,
    load,
    clamp_hard,
    clamp_snug,
    tack,
    check,
    slacken,
    pull,
    turn_over,
    weld,
    cool,
    lift_out,
    written
};
const char* key(StepKind kind);

struct Step {
    StepId id;
    StepKind kind = StepKind::written;
    std::vector<PlacementId> placements;
    std::vector<PieceId> pieces;
    std::vector<SeamId> seams;
    std::string note;
    friend bool operator==(const Step&, const Step&) = default;
};

/// How the weldment lies: which side is down, the turn about the vertical, and where.
struct Lay {
    /// Direction of M that looks down, as "-Z", "+X", … or "" for a free pose.
    std::string side_down = "-Z";
    double yaw_deg = 0;
    space::Pose X_TM;
};

/// What the floor wrote down after setting or welding: by what was measured.
struct Measured {
    std::string what;
    double value_mm = 0;
    std::string when;
    friend bool operator==(const Measured&, const Measured&) = default;
};

struct Stage {
    StageId id;
    std::string name;
    Lay lay;
    /// Pieces loaded in this stage, and stages whose welded result comes in as one body.
    std::vector<PieceId> pieces;
    std::vector<StageId> earlier;
    std::map<PieceId, HeldBy> held_by;
    std::vector<Placement> placements;
    std::vector<Step> order;
    int repeat = 1;
    std::map<PlacementId, double> as_set_mm;
    std::vector<Measured> measured;

    const Placement* find(PlacementId id) const;
    HeldBy held(PieceId piece) const;
};

struct Limits {
    double clearance_piece_mm = 3;
    double clearance_moving_mm = 10;
    friend bool operator==(const Limits&, const Limits&) = default;
};

struct Process {
    /// "mag", "tig", "stick".
    std::string process = "mag";
    /// Torch id of resources/torches.
    std::string gun;
    double stick_out_mm = 15;
    friend bool operator==(const Process&, const Process&) = default;
};

struct Shrink {
    /// Allowance across one weld; 0 = none put in.
    double per_joint_mm = 0;
    std::string note;
    friend bool operator==(const Shrink&, const Shrink&) = default;
};

struct Stock {
    std::map<std::string, double> length_mm;
    double kerf_mm = 2;
    double end_trim_mm = 10;
    friend bool operator==(const Stock&, const Stock&) = default;
};

struct Display {
    base::DisplayUnit unit;
    std::string paper = "A4";
    std::string language = "en";
    friend bool operator==(const Display&, const Display&) = default;
};

struct Revision {
    std::string name;
    std::string date;
    std::string what;
    friend bool operator==(const Revision&, const Revision&) = default;
};

struct TitleBlock {
    std::string job;
    std::string part;
    std::string customer;
    std::string planner;
    std::string date;
    std::string revision;
    /// "as drawn", "left", "right", or "".
    std::string hand;
    friend bool operator==(const TitleBlock&, const TitleBlock&) = default;
};

struct Photo {
    std::string sha256;
    std::string caption;
    std::shared_ptr<const std::string> data;
};

/// A finding the user has accepted; it lapses when rule, who or the measured value change. `subjects` begin with the
/// stage ("stage 9") where the finding has one.
struct Accepted {
    std::string rule;
    std::vector<std::string> subjects;
    double measured = 0;
    std::string reason;
    friend bool operator==(const Accepted&, const Accepted&) = default;
};

/// The whole job as one value: copy it, compare it, keep it in the undo stack. Only what the user chose.
struct Setup {
    std::vector<WeldmentUse> weldments;
    std::vector<Stage> stages;
    shop::Table table;
    /// Whole definitions of the components in use, by id.
    std::map<std::string, std::shared_ptr<const shop::Component>> components;
    shop::Shelf shelf;
    Limits limits;
    Process process;
    Shrink shrink;
    Stock stock;
    Display display;
    TitleBlock title;
    std::vector<Revision> revisions;
    std::string notes;
    std::vector<Photo> photos;
    std::vector<Accepted> accepted;
    bool rough = false;
    /// Last id given of any kind.
    std::uint32_t last_id = 0;

    const Stage* find_stage(StageId id) const;
    Stage* find_stage(StageId id);
    /// Pieces of all weldments by id; null where there is none.
    const weldment::Piece* find_piece(PieceId id) const;
    const weldment::Seam* find_seam(SeamId id) const;
    const shop::Component* find_component(const std::string& id) const;
    /// Name that the fitter reads: the user's, else the model's, else "piece 3".
    std::string piece_name(PieceId id) const;
    std::uint32_t next_id() { return ++last_id; }
};

/// Equal in everything the job file holds (STEP text and photos by hash, components by definition). The model, which is
/// derived, and the order of placements and pieces inside a stage do not count.
bool same(const Setup& a, const Setup& b);

}  // namespace setwright::setup
