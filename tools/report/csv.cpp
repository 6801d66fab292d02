#include "tools/report/csv.hpp"

#include <fmt/format.h>

#include <cmath>

#include "sim/results/files.hpp"
#include "sim/study/analysis.hpp"
#include "tools/report/maps.hpp"

namespace driftglow::report {
namespace {

using results::Setting;
using results::Summary;

std::string field(double value) {
  return std::isfinite(value) ? fmt::format("{}", value) : std::string();
}
std::string field(std::int64_t value) {
  return fmt::format("{}", value);
}
std::string field(const std::string& value) {
  return results::csv_field(value);
}

std::string row(const auto&... values) {
  std::string line;
  ((line += (line.empty() ? "" : ",") + field(values)), ...);
  return line + "\n";
}

std::string interval(const statistics::Estimate& e) {
  return field(e.mean) + "," + field(e.mean - e.half_width) + "," + field(e.mean + e.half_width) + "\n";
}

std::string of(const std::string& first, const std::string& second) {
  return field(first) + "," + field(second) + ",";
}

CsvFile duty(const Summary& summary) {
  std::string text = "tag_design,emitter,tag,duty,low_95,high_95\n";
  for (const auto& design : summary.designs) {
    for (const auto& fit : design.fits) {
      text += of(design.name, fit.emitter) + "all," + interval(fit.duty);
      for (std::size_t tag = 0; tag < fit.tag_duty.size(); ++tag)
        text += of(design.name, fit.emitter) + fmt::format("{},", tag) + interval(fit.tag_duty[tag]);
    }
  }
  return {"duty.csv", text};
}

CsvFile lit_at_once(const Summary& summary) {
  std::string text = "tags_lit,share,low_95,high_95\n";
  for (std::size_t lit = 0; lit < summary.vessel.lit_at_once.size(); ++lit)
    text += fmt::format("{},", lit) + interval(summary.vessel.lit_at_once[lit]);
  return {"lit_at_once.csv", text};
}

CsvFile longest_dark(const Summary& summary) {
  return {"longest_dark.csv", "longest_of_all_s,mean_of_replicates_s,low_95_s,high_95_s\n" +
                                  field(summary.vessel.longest_dark) + "," +
                                  interval(summary.vessel.longest_dark_each)};
}

CsvFile light_by_colour(const Summary& summary) {
  std::string text = "colour,light_cd,low_95_cd,high_95_cd\n";
  for (std::size_t i = 0; i < summary.vessel.colour_intensity.size(); ++i)
    text += field(summary.outline.colours[i]) + "," + interval(summary.vessel.colour_intensity[i]);
  return {"light_by_colour.csv", text};
}

CsvFile spells(const Summary& summary) {
  std::string text = "tag_design,emitter,length_from_s,lit_spells,dark_spells\n";
  for (const auto& design : summary.designs) {
    for (const auto& fit : design.fits) {
      for (int bin = 0; bin < flight::spell_bins; ++bin)
        text += row(design.name, fit.emitter, flight::spell_bin_start(bin), fit.on_spells[bin],
                    fit.off_spells[bin]);
    }
  }
  return {"spells.csv", text};
}

CsvFile glow_by_place(const Summary& summary) {
  std::string text = "tag_design,emitter,r_from_m,r_to_m,z_from_m,z_to_m,samples,samples_lit\n";
  const double r = summary.outline.vessel_radius / flight::place_r_bins,
               z = summary.outline.vessel_height / flight::place_z_bins;
  for (const auto& design : summary.designs) {
    for (const auto& fit : design.fits) {
      for (int i = 0; i < flight::place_r_bins; ++i) {
        for (int j = 0; j < flight::place_z_bins; ++j) {
          const int at = i * flight::place_z_bins + j;
          text += row(design.name, fit.emitter, i * r, (i + 1) * r, j * z, (j + 1) * z, design.visits[at],
                      fit.lit_by_place[at]);
        }
      }
    }
  }
  return {"glow_by_place.csv", text};
}

CsvFile pinned(const Summary& summary) {
  std::string text = "tag_design,surface,pinned_share,low_95,high_95\n";
  for (const auto& design : summary.designs) {
    for (int s = 0; s < motion::surfaces; ++s)
      text += of(design.name, results::surface_name(s)) + interval(design.pinned[s]);
  }
  return {"pinned.csv", text};
}

CsvFile field_map_values(const Setting& setting) {
  std::string text = "x_m,z_m,flux_density_peak_T\n";
  const auto& grid = setting.section;
  for (int i = 0; i < grid.nodes[0]; ++i) {
    for (int j = 0; j < grid.nodes[1]; ++j)
      text += row(grid.at(0, i), grid.at(1, j),
                  setting.flux_density[static_cast<std::size_t>(i) * grid.nodes[1] + j]);
  }
  return {"field.csv", text};
}

CsvFile air_map_values(const Setting& setting) {
  std::string text = "r_m,z_m,u_r_m_per_s,u_theta_m_per_s,u_z_m_per_s,stream_function_m3_per_s\n";
  const auto& grid = setting.half_section;
  const auto stream = stream_function(setting);
  for (int i = 0; i < grid.nodes[0]; ++i) {
    for (int j = 0; j < grid.nodes[1]; ++j) {
      const std::size_t at = static_cast<std::size_t>(i) * grid.nodes[1] + j;
      text += row(grid.at(0, i), grid.at(1, j), setting.u_r[at], setting.u_theta[at], setting.u_z[at],
                  stream[at]);
    }
  }
  return {"air.csv", text};
}

std::string study_values(const study::Study& study, const study::Table& table, int design) {
  std::string text = field(std::int64_t{design}) + ",";
  for (std::size_t k = 0; k < study.variables.size(); ++k)
    text += field(study.shown(k, table.designs[design][k])) + ",";
  return text;
}

std::string study_head(const study::Study& study) {
  std::string text = "design,";
  for (const auto& variable : study.variables) text += field(variable.name) + ",";
  return text;
}

CsvFile ranking_values(const study::Ranking& ranking) {
  std::string text = "first_design,second_design,first_less_second,low_95,high_95,p_value,distinct\n";
  for (const auto& comparison : ranking.comparisons) {
    const auto& e = comparison.paired;
    text +=
        row(std::int64_t{comparison.first}, std::int64_t{comparison.second}, e.mean, e.mean - e.half_width,
            e.mean + e.half_width, comparison.p_value, std::string(comparison.distinct ? "yes" : "no"));
  }
  return {"ranking.csv", text};
}

CsvFile pareto_values(const study::Study& study, const study::Table& table, const study::Ranking& ranking) {
  std::string text = study_head(study) + "output,mean,low_95,high_95\n";
  for (const int design : study::pareto_set(study, table, ranking.order)) {
    for (const auto& goal : study.goals)
      text += study_values(study, table, design) + field(study.outputs[goal.output].name) + "," +
              interval(study::estimate_of(study, table.results[design], goal.output));
  }
  return {"pareto.csv", text};
}

CsvFile effect_values(const study::Study& study, const study::Table& table) {
  std::string text = "output,varied,level,mean,low_95,high_95\n";
  const auto effects = study::main_effects(study, table);
  for (std::size_t o = 0; o < effects.size(); ++o) {
    for (std::size_t k = 0; k < effects[o].size(); ++k) {
      for (const auto& effect : effects[o][k])
        text += of(study.outputs[o].name, study.variables[k].name) + field(effect.level) + "," +
                interval(effect.mean);
    }
  }
  return {"main_effects.csv", text};
}

CsvFile index_values(const study::Study& study, const study::Table& table) {
  std::string text =
      "output,varied,first_order,first_low_95,first_high_95,total,total_low_95,total_high_95\n";
  const auto indices = study::sobol_indices(study, table);
  for (std::size_t o = 0; o < indices.size(); ++o) {
    for (std::size_t k = 0; k < indices[o].size(); ++k) {
      const auto& index = indices[o][k];
      text += row(study.outputs[o].name, study.variables[k].name, index.value.first, index.first.low,
                  index.first.high, index.value.total, index.total.low, index.total.high);
    }
  }
  return {"sobol_indices.csv", text};
}

}  // namespace

std::vector<CsvFile> chart_tables(const Setting& setting, const Summary& summary) {
  return {duty(summary),          lit_at_once(summary), longest_dark(summary),  light_by_colour(summary),
          spells(summary),        pinned(summary),      glow_by_place(summary), field_map_values(setting),
          air_map_values(setting)};
}

std::vector<CsvFile> study_tables(const study::Study& study, const study::Table& table) {
  const auto ranking = study::rank(study, table);
  return {ranking_values(ranking), pareto_values(study, table, ranking), effect_values(study, table),
          index_values(study, table)};
}

}  // namespace driftglow::report
