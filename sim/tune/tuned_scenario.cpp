#include "sim/tune/tuned_scenario.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "models/error.hpp"
#include "sim/store/format.hpp"

namespace driftglow::tune {
namespace {

std::string with_unit(const std::string& number, const std::string& unit) {
  return unit.empty() ? number : number + " " + unit;
}

// Changes one value of a text.
class Editor {
 public:
  Editor(std::string text, std::string shown) : text_(std::move(text)), shown_(std::move(shown)) {}

  void set(const scenario::KeyPlace& place, const std::string& value) {
    scenario::Faults faults(shown_);
    const auto root = scenario::parse_document(text_, faults);
    auto changed = scenario::with_value_in_text(text_, root, place, value);
    if (!changed)
      throw InputError(
          fmt::format("{}: {} cannot be changed by itself; expected its value on one line of its own", shown_,
                      scenario::quote(place.path)));
    text_ = std::move(*changed);
  }

  // A file named from the old folder, where it is named at all.
  void move_file(const scenario::KeyPlace& place, const std::filesystem::path& from,
                 const std::filesystem::path& to) {
    scenario::Faults faults(shown_);
    const auto root = scenario::parse_document(text_, faults);
    const scenario::Node* node = scenario::node_at(*root, place);
    if (node == nullptr || std::filesystem::path(node->scalar).is_absolute()) return;
    set(place, std::filesystem::proximate(from / node->scalar, to).string());
  }

  std::string text() && { return std::move(text_); }

 private:
  std::string text_, shown_;
};

}  // namespace

std::string rounded(double value, double deviation) {
  const int decimals = std::clamp(static_cast<int>(std::ceil(2.0 - std::log10(deviation))), 0, 15);
  return fmt::format("{:.{}f}", value, decimals);
}

std::string tuned_scenario(const Readings& readings, const Tuned& tuned,
                           const std::filesystem::path& folder) {
  Editor editor(readings.base.text, readings.base_file.string());
  const auto correlations = tuned.correlations();
  const auto& given = readings.base_root->entries;
  const bool has_form =
      std::any_of(given.begin(), given.end(), [](const auto& e) { return e.key == "format"; });
  std::string block = has_form ? std::string() : fmt::format("\nformat: {}\n", store::newest_form);
  block += fmt::format(
      "\n# By driftglow tune: what the readings leave uncertain. Without this block the duty's interval is "
      "of chance "
      "alone.\ntuned:\n  readings: \"{}.yaml\"\n  unknowns:\n",
      readings.name);
  for (std::size_t k = 0; k < tuned.unknowns.size(); ++k) {
    const auto& unknown = tuned.unknowns[k];
    const auto value = with_unit(rounded(unknown.after, unknown.deviation), unknown.unit);
    editor.set(readings.unknowns[k].place, value);
    if (const auto& own = readings.unknowns[k].own_tolerance; own && own->path.starts_with("drive."))
      editor.set(*own, "0 %");
    block += fmt::format("    - key: \"{}\"\n      value: {}\n      uncertainty: {}\n", unknown.key, value,
                         with_unit(fmt::format("{:.3g}", unknown.deviation), unknown.unit));
    if (k == 0) continue;
    block += "      correlations: [";
    for (std::size_t j = 0; j < k; ++j)
      block += fmt::format("{}{:.4f}", j == 0 ? "" : ", ",
                           correlations(static_cast<Eigen::Index>(k), static_cast<Eigen::Index>(j)));
    block += "]\n";
  }
  const auto from = std::filesystem::absolute(readings.base_file).parent_path(),
             to = std::filesystem::absolute(folder);
  editor.move_file({"air.file", nullptr, {"air", "file"}}, from, to);
  editor.move_file({"drive.field.file", nullptr, {"drive", "field", "file"}}, from, to);
  std::string text = std::move(editor).text();
  if (!text.ends_with('\n')) text += '\n';
  return text + block;
}

}  // namespace driftglow::tune
