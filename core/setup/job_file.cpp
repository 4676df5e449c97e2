#include "core/setup/job_file.h"

#include <unistd.h>

#include <algorithm>
#include <cstdlib>
#include <filesystem>

#include "core/base/file.h"
#include "core/setup/match.h"
#include "core/space/bodies.h"

namespace setwright::setup {

using base::Text;

namespace {

/// What packs into one JSON string.
constexpr std::size_t largest_model_bytes = std::size_t{1} << 29;
constexpr std::size_t largest_job_bytes = std::size_t{1} << 30;
/// From here on checks take minutes, and people should know why.
constexpr std::size_t many_pieces = 2000;

Text named(const std::string& name) {
    return {"job.name", {{"name", name}}};
}

/// What the catalogue of this computer says about the definitions that the job brought along.
void compare_with_catalogue(const Setup& setup, std::vector<Text>& remarks) {
    if (setup.components.empty()) return;
    const auto catalogue = shop::load_catalogue(base::resource_dir() + "/catalogue");
    if (!catalogue) {
        remarks.push_back(catalogue.error().text);
        return;
    }
    std::vector<Text> unknown;
    std::vector<Text> other;
    for (const auto& [id, component] : setup.components) {
        const shop::Component* known = catalogue->find(id);
        if (!known)
            unknown.push_back(named(id));
        else if (shop::component_json(*known) != shop::component_json(*component))
            other.push_back(named(id));
    }
    const auto remark = [&](const char* sentence, std::vector<Text> names) {
        const auto count = static_cast<std::int64_t>(names.size());
        if (count > 0) remarks.push_back({sentence, {{"components", std::move(names)}, {"count", count}}});
    };
    remark("job.component_not_in_catalogue", std::move(unknown));
    remark("job.component_differs", std::move(other));
}

/// A folder of its own with the STEP text in it, gone on every way out.
class ScratchModel {
  public:
    static base::Result<std::unique_ptr<ScratchModel>> make(const std::string& text) {
        std::error_code error;
        std::string folder = (std::filesystem::temp_directory_path(error) / "setwright-XXXXXX").string();
        if (error || !::mkdtemp(folder.data())) return base::bad_input({"job.no_scratch", {{"folder", folder}}});
        auto scratch = std::make_unique<ScratchModel>(folder);
        if (auto written = base::write_file(scratch->path(), text); !written) return written.error();
        return scratch;
    }
    explicit ScratchModel(std::string folder) : folder_(std::move(folder)) {}
    ScratchModel(const ScratchModel&) = delete;
    ScratchModel& operator=(const ScratchModel&) = delete;
    ~ScratchModel() {
        std::error_code ignored;
        std::filesystem::remove_all(folder_, ignored);
    }
    std::string path() const { return folder_ + "/model.step"; }

  private:
    std::string folder_;
};

/// The reader's sentence names the scratch file; people know the model by its own name.
base::Error renamed(base::Error error, const std::string& path, const std::string& name) {
    for (auto& [key, argument] : error.text.arguments)
        if (auto* text = std::get_if<std::string>(&argument); text && *text == path) *text = name;
    return error;
}

base::Error cancelled() {
    return {base::ErrorKind::cancelled, {"job.cancelled", {}}};
}

base::Result<void> import_model(Setup& setup, WeldmentUse& use, const base::Progress& job, std::vector<Text>& remarks) {
    if (!use.step_text) return {};
    if (use.mirrored || use.unit_factor != 1)
        return base::Error{base::ErrorKind::not_yet,
                           {use.mirrored ? "job.mirrored_not_yet" : "job.scaled_not_yet", {{"model", use.file_name}}}};
    if (!use.linked_path.empty()) {
        const auto linked = base::read_file(use.linked_path, largest_model_bytes);
        if (linked && base::sha256(*linked) != use.sha256)
            remarks.push_back({"job.link_changed", {{"path", use.linked_path}}});
    }
    job.enter("import.reading");
    const auto scratch = ScratchModel::make(*use.step_text);
    if (!scratch) return scratch.error();
    const auto bodies = space::read_step((*scratch)->path(), job);
    if (!bodies) return renamed(bodies.error(), (*scratch)->path(), use.file_name);
    weldment::Weldment model = weldment::recognise(*bodies, job);
    if (job.cancelled()) return cancelled();
    job.enter("import.matching");
    const Matched matched = match_to_frozen(use, model, setup.last_id);
    if (job.cancelled()) return cancelled();
    const auto remark = [&](const char* sentence, std::size_t count) {
        if (count > 0)
            remarks.push_back({sentence, {{"model", use.file_name}, {"count", static_cast<std::int64_t>(count)}}});
    };
    remark("job.pieces_gone", matched.pieces_gone);
    remark("job.pieces_new", matched.pieces_new);
    remark("job.seams_gone", matched.seams_gone);
    remark("job.seams_new", matched.seams_new);
    use.model = std::make_shared<const weldment::Weldment>(std::move(model));
    for (Text& read : import_remarks(use)) remarks.push_back(std::move(read));
    return {};
}

}  // namespace

base::Result<OpenedJob> open_job(const std::string& path, const base::Progress& job) {
    const auto text = base::read_file(path, largest_job_bytes);
    if (!text) return text.error();
    auto opened = parse_job(*text, path);
    if (!opened) return opened.error();
    compare_with_catalogue(opened->setup, opened->remarks);
    for (WeldmentUse& use : opened->setup.weldments)
        if (auto imported = import_model(opened->setup, use, job, opened->remarks); !imported) return imported.error();
    return opened;
}

base::Result<void> save_job(const Setup& setup, const std::string& path) {
    return base::write_file(path, job_json(setup));
}

base::Result<WeldmentUse> import_step(const std::string& path, const base::Progress& job) {
    job.enter("import.reading");
    auto text = base::read_file(path, largest_model_bytes);
    if (!text) return text.error();
    const auto bodies = space::read_step(path, job);
    if (!bodies) return bodies.error();
    auto model = std::make_shared<weldment::Weldment>(weldment::recognise(*bodies, job));
    if (job.cancelled()) return cancelled();
    if (model->pieces.empty()) return base::bad_input({"job.no_pieces", {{"file", path}}});
    WeldmentUse use;
    job.enter("import.matching");
    use.file_name = std::filesystem::path(path).filename().string();
    use.sha256 = base::sha256(*text);
    use.step_text = std::make_shared<const std::string>(std::move(text).value());
    freeze(use, *model);
    use.model = std::move(model);
    if (job.cancelled()) return cancelled();
    return use;
}

std::vector<base::Text> import_remarks(const WeldmentUse& use) {
    const std::vector<weldment::Piece>& pieces = use.model->pieces;
    std::vector<Text> remarks;
    const auto remark = [&](const char* sentence, std::ptrdiff_t count) {
        remarks.push_back({sentence, {{"model", use.file_name}, {"count", static_cast<std::int64_t>(count)}}});
    };
    if (pieces.size() >= many_pieces) remark("job.many_pieces", std::ssize(pieces));
    const auto doubtful = std::count_if(pieces.begin(), pieces.end(), [](const auto& p) { return !p.doubts.empty(); });
    if (doubtful > 0) remark("job.doubts", doubtful);
    remarks.insert(remarks.end(), use.model->doubts.begin(), use.model->doubts.end());
    return remarks;
}

}  // namespace setwright::setup
