#include "sim/study/files.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "sim/results/files.hpp"
#include "sim/scenario/difference.hpp"
#include "sim/store/atomic_file.hpp"
#include "sim/store/format.hpp"
#include "sim/study/analysis.hpp"

namespace driftglow::study {
namespace {

using Json = nlohmann::ordered_json;
using statistics::Estimate;

const char* name_of(DesignKind kind) {
  switch (kind) {
    case DesignKind::grid:
      return "grid";
    case DesignKind::latin_hypercube:
      return "latin_hypercube";
    case DesignKind::sobol:
      return "sobol";
    case DesignKind::sensitivity:
      return "sensitivity";
    case DesignKind::search:
      return "search";
  }
  return "";
}

// Values that are not finite are written as null.
Json json(const Estimate& estimate) {
  return {{"mean", estimate.mean},
          {"low_95", estimate.mean - estimate.half_width},
          {"high_95", estimate.mean + estimate.half_width},
          {"half_width_95", estimate.half_width}};
}

Json json(const Comparison& comparison) {
  return {{"first", comparison.first},
          {"second", comparison.second},
          {"paired", json(comparison.paired)},
          {"replicates", comparison.paired.count},
          {"unpaired_half_width_95", comparison.unpaired_half_width},
          {"p_value", comparison.p_value},
          {"distinct", comparison.distinct}};
}

Json variables_json(const Study& study) {
  Json list = Json::array();
  for (const auto& variable : study.variables) {
    Json entry{{"name", variable.name}, {"unit", variable.unit}, {"keys", Json::array()}};
    for (const auto& link : variable.links) entry["keys"].push_back(link.place.path);
    if (variable.levels.empty()) {
      entry["from"] = variable.from;
      entry["to"] = variable.to;
      entry["scale"] = variable.scale == Scale::logarithmic ? "logarithmic" : "linear";
    } else {
      entry["levels"] = variable.levels;
    }
    list.push_back(std::move(entry));
  }
  return list;
}

Json asked_json(const Study& study) {
  Json out{{"outputs", Json::array()}, {"goals", Json::array()}, {"limits", Json::array()}};
  for (const auto& output : study.outputs) {
    out["outputs"].push_back({{"name", output.name},
                              {"document", output.document == Document::flight ? "flight" : "sheet"},
                              {"path", output.path}});
  }
  for (const auto& goal : study.goals)
    out["goals"].push_back(
        {{"output", study.outputs[goal.output].name}, {"want", goal.want == Want::most ? "most" : "least"}});
  for (const auto& limit : study.limits) {
    Json entry{{"output", study.outputs[limit.output].name}};
    if (limit.least) entry["least"] = *limit.least;
    if (limit.most) entry["most"] = *limit.most;
    out["limits"].push_back(std::move(entry));
  }
  return out;
}

// What both the document and the table of rows show of a design.
struct Standing {
  std::vector<int> rank;  // from 1; 0: none
  std::set<int> pareto;
};

Standing standing(const Study& study, const Table& table, const Ranking& ranking) {
  Standing result{std::vector<int>(table.designs.size(), 0), {}};
  for (std::size_t i = 0; i < ranking.order.size(); ++i)
    result.rank[ranking.order[i]] = static_cast<int>(i) + 1;
  for (const int design : pareto_set(study, table, ranking.order)) result.pareto.insert(design);
  return result;
}

Json designs_json(const Study& study, const Table& table, const Standing& standing) {
  Json list = Json::array();
  for (std::size_t i = 0; i < table.designs.size(); ++i) {
    const auto& result = table.results[i];
    Json entry{{"design", i}, {"values", Json::array()}, {"coordinates", table.designs[i]}};
    for (std::size_t k = 0; k < study.variables.size(); ++k)
      entry["values"].push_back(study.shown(k, table.designs[i][k]));
    if (!result.refused.empty()) {
      entry["refused"] = result.refused;
    } else {
      entry["replicates"] = result.replicates;
      entry["keeps_limits"] = keeps_limits(study, result);
      entry["rank"] = standing.rank[i] == 0 ? Json() : Json(standing.rank[i]);
      entry["pareto"] = standing.pareto.contains(static_cast<int>(i));
      Json outputs = Json::object();
      for (std::size_t o = 0; o < study.outputs.size(); ++o)
        outputs[study.outputs[o].name] = json(estimate_of(study, result, o));
      entry["outputs"] = std::move(outputs);
    }
    list.push_back(std::move(entry));
  }
  return list;
}

Json effects_json(const Study& study, const Table& table) {
  const auto effects = main_effects(study, table);
  Json list = Json::array();
  for (std::size_t o = 0; o < study.outputs.size(); ++o) {
    for (std::size_t k = 0; k < study.variables.size(); ++k) {
      Json entry{{"output", study.outputs[o].name},
                 {"variable", study.variables[k].name},
                 {"levels", Json::array()}};
      for (const auto& effect : effects[o][k])
        entry["levels"].push_back({{"level", effect.level}, {"mean", json(effect.mean)}});
      list.push_back(std::move(entry));
    }
  }
  return list;
}

Json indices_json(const Study& study, const Table& table) {
  const auto indices = sobol_indices(study, table);
  if (indices.empty()) return nullptr;
  Json list = Json::array();
  for (std::size_t o = 0; o < indices.size(); ++o) {
    for (std::size_t k = 0; k < indices[o].size(); ++k) {
      const auto& index = indices[o][k];
      list.push_back(
          {{"output", study.outputs[o].name},
           {"variable", study.variables[k].name},
           {"first",
            {{"value", index.value.first}, {"low_95", index.first.low}, {"high_95", index.first.high}}},
           {"total",
            {{"value", index.value.total}, {"low_95", index.total.low}, {"high_95", index.total.high}}}});
    }
  }
  return list;
}

std::string csv_number(double value) {
  return std::isfinite(value) ? fmt::format("{}", value) : std::string();
}

void write_identity(store::Writer& file, const Identity& identity, bool interrupted) {
  results::write_head(file, identity.head(interrupted));
  file.set_text("/", "study", identity.study.text);
  file.set_text("/", "study_sha256", identity.study.hash);
  file.set_text("/", "study_name", identity.study.name);
}

void write_values(store::Writer& file, const Study& study, const std::vector<Piece>& pieces) {
  std::vector<std::int32_t> design, first, replicates;
  Json refused = Json::object();
  for (const auto& piece : pieces) {
    design.push_back(piece.design);
    first.push_back(piece.first);
    replicates.push_back(piece.result.replicates);
    if (!piece.result.refused.empty()) refused[std::to_string(piece.design)] = piece.result.refused;
  }
  const store::Extents one{pieces.size()};
  file.write("/pieces/design", design, one, {"1", "number of the design, from 0, [piece]"});
  file.write("/pieces/first", first, one, {"1", "number of the piece's first replicate, [piece]"});
  file.write("/pieces/replicates", replicates, one, {"1", "replicates of the piece, [piece]"});
  file.set_text("/pieces", "refused", refused.dump(-1, ' ', false, Json::error_handler_t::replace));
  for (std::size_t o = 0; o < study.outputs.size(); ++o) {
    const auto& output = study.outputs[o];
    std::vector<double> values;
    for (const auto& piece : pieces) {
      if (piece.result.refused.empty())
        values.insert(values.end(), piece.result.values[o].begin(), piece.result.values[o].end());
    }
    const bool sheet = output.document == Document::sheet;
    file.write(
        "/values/" + output.name, values, {values.size()},
        {"1", sheet ? "the output, in the unit of `driftglow sheet --json`, [piece that is not refused]"
                    : "the output in the unit of summary.json, [replicate of each piece in turn]"});
    file.set_text("/values/" + output.name, "path", (sheet ? "sheet." : "flight.") + output.path);
  }
}

std::vector<Piece> pieces_of(const Table& table) {
  std::vector<Piece> pieces;
  for (int i = table.range.first; i < table.range.end; ++i) pieces.push_back({i, 0, table.results[i]});
  return pieces;
}

}  // namespace

store::Origin Identity::origin() const {
  return {program_version, study.base.text, study.base.hash, study.base.flight.seed};
}

results::FlightHead Identity::head(bool interrupted) const {
  return {study.base.name, study.flights.most, study.flights.target_interval, arithmetic, part, interrupted};
}

std::optional<std::string> what_differs(const store::Reader& there, const Identity& here) {
  const auto other = read_study_text(there);
  if (const auto key = scenario::first_difference(here.study.text, other.text))
    return fmt::format("the study's {} is {} there and {} here", key->key, key->there, key->here);
  if (other.text != here.study.text) return "the study has another comment or layout there";
  if (other.name != here.study.name)
    return fmt::format("the study's file name is `{}` there and `{}` here", other.name, here.study.name);
  return results::what_differs(there.origin(), results::read_head(there), here.origin(), here.head(false));
}

Json study_document(const Study& study, const Table& table, const std::string& program_version) {
  const auto ranking = rank(study, table);
  Json out{{"format_version", store::json_format},
           {"program_version", program_version},
           {"title", study.title},
           {"study", study.name},
           {"study_sha256", study.hash},
           {"scenario", study.base.name},
           {"scenario_sha256", study.base.hash},
           {"seed", study.base.flight.seed},
           {"design", {{"kind", name_of(study.kind)}, {"designs", table.designs.size()}}}};
  out["variables"] = variables_json(study);
  out.update(asked_json(study));
  out["designs"] = designs_json(study, table, standing(study, table, ranking));
  Json comparisons = Json::array();
  for (const auto& comparison : ranking.comparisons) comparisons.push_back(json(comparison));
  out["ranking"] = {{"by", study.outputs[study.goals.front().output].name},
                    {"order", ranking.order},
                    {"outside_limits", ranking.outside},
                    {"correction", ranking.correction},
                    {"looks", ranking.looks},
                    {"level", 0.05},
                    {"comparisons", std::move(comparisons)}};
  out["main_effects"] = effects_json(study, table);
  out["sobol_indices"] = indices_json(study, table);
  return out;
}

std::string study_csv(const Study& study, const Table& table) {
  std::string text = "design";
  for (const auto& variable : study.variables) text += "," + results::csv_field(variable.name);
  for (const auto& output : study.outputs) {
    text += "," + results::csv_field(output.name);
    if (output.document == Document::flight)
      text += fmt::format(",{},{}", results::csv_field(output.name + "_low_95"),
                          results::csv_field(output.name + "_high_95"));
  }
  text += ",replicates,keeps_limits,rank,pareto,refused\n";
  const auto ranks = standing(study, table, rank(study, table));
  for (std::size_t i = 0; i < table.designs.size(); ++i) {
    const auto& result = table.results[i];
    const bool built = result.refused.empty();
    text += fmt::format("{}", i);
    for (std::size_t k = 0; k < study.variables.size(); ++k)
      text += "," + results::csv_field(study.shown(k, table.designs[i][k]));
    for (std::size_t o = 0; o < study.outputs.size(); ++o) {
      const auto estimate = built ? estimate_of(study, result, o) : statistics::estimate({});
      text += "," + csv_number(estimate.mean);
      if (study.outputs[o].document == Document::flight)
        text += fmt::format(",{},{}", csv_number(estimate.mean - estimate.half_width),
                            csv_number(estimate.mean + estimate.half_width));
    }
    text += fmt::format(",{},{},{},{},{}\n", result.replicates,
                        !built                        ? ""
                        : keeps_limits(study, result) ? "yes"
                                                      : "no",
                        ranks.rank[i] == 0 ? "" : std::to_string(ranks.rank[i]),
                        ranks.pareto.contains(static_cast<int>(i)) ? "yes" : "",
                        results::csv_field(result.refused));
  }
  return text;
}

void write_study_file(const std::filesystem::path& path, const Identity& identity, const Table& table,
                      const store::Run& run) {
  const Study& study = identity.study;
  store::Writer file(path, identity.origin());
  write_identity(file, identity, table.interrupted);
  std::vector<double> coordinates;
  for (const auto& design : table.designs)
    coordinates.insert(coordinates.end(), design.begin(), design.end());
  file.write(
      "/designs/coordinates", coordinates, {table.designs.size(), study.variables.size()},
      {"1", "what is varied, in the unit as written or the level's number from 0, [design][variable]"});
  for (std::size_t k = 0; k < study.variables.size(); ++k) {
    const std::string group = fmt::format("/variables/{}", k);
    file.set_text(group, "name", study.variables[k].name);
    file.set_text(group, "unit", study.variables[k].unit);
    for (std::size_t level = 0; level < study.variables[k].levels.size(); ++level)
      file.set_text(group, fmt::format("level_{}", level), study.variables[k].levels[level]);
  }
  write_values(file, study, pieces_of(table));
  file.commit(run);
}

void write_study(const std::filesystem::path& folder, const Identity& identity, const Table& table,
                 const store::Run& run) {
  write_study_file(folder / "study.h5", identity, table, run);
  store::write_text_atomically(folder / "study.json",
                               study_document(identity.study, table, identity.program_version)
                                       .dump(1, ' ', false, Json::error_handler_t::replace) +
                                   "\n");
  store::write_text_atomically(folder / "study.csv", study_csv(identity.study, table));
}

void write_pieces(const std::filesystem::path& path, const Identity& identity,
                  const std::vector<Piece>& pieces, const store::Run& run) {
  store::Writer file(path, identity.origin());
  write_identity(file, identity, true);
  write_values(file, identity.study, pieces);
  file.commit(run);
}

std::vector<Piece> read_pieces(const store::Reader& file, const Study& study) {
  const auto design = file.read<std::int32_t>("/pieces/design", 1).values;
  const auto first = file.read<std::int32_t>("/pieces/first", 1).values;
  const auto replicates = file.read<std::int32_t>("/pieces/replicates", 1).values;
  file.expect(first.size() == design.size() && replicates.size() == design.size(),
              "/pieces have not all the same length");
  const auto refused = Json::parse(file.text("/pieces", "refused"), nullptr, false);
  file.expect(refused.is_object(), "/pieces@refused is no JSON object");
  std::vector<Piece> pieces;
  for (std::size_t i = 0; i < design.size(); ++i) {
    pieces.push_back({design[i], first[i], {{}, replicates[i], {}}});
    const auto key = std::to_string(design[i]);
    if (refused.contains(key)) pieces.back().result.refused = refused[key].get<std::string>();
    pieces.back().result.values.resize(study.outputs.size());
  }
  for (std::size_t o = 0; o < study.outputs.size(); ++o) {
    const std::string path = "/values/" + study.outputs[o].name;
    const auto values = file.read<double>(path, 1).values;
    std::size_t at = 0;
    for (auto& piece : pieces) {
      if (!piece.result.refused.empty()) continue;
      const std::size_t count = study.outputs[o].document == Document::sheet
                                    ? 1
                                    : static_cast<std::size_t>(piece.result.replicates);
      file.expect(at + count <= values.size(), path + " is too short");
      piece.result.values[o].assign(values.begin() + at, values.begin() + at + count);
      at += count;
    }
    file.expect(at == values.size(), path + " is too long");
  }
  return pieces;
}

StudyText read_study_text(const store::Reader& file) {
  file.expect(file.has_attribute("/", "study"), "is no study");
  return {file.text("/", "study"), file.text("/", "study_name")};
}

}  // namespace driftglow::study
