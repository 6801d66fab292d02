#include "tools/report/csv.hpp"

#include <fmt/format.h>

#include <cmath>

#include "sim/results/files.hpp"
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

}  // namespace

std::vector<CsvFile> chart_tables(const Setting& setting, const Summary& summary) {
  return {duty(summary),          lit_at_once(summary), longest_dark(summary),  light_by_colour(summary),
          spells(summary),        pinned(summary),      glow_by_place(summary), field_map_values(setting),
          air_map_values(setting)};
}

}  // namespace driftglow::report
