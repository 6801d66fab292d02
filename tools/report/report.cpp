#include "tools/report/report.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "tools/report/chart.hpp"
#include "tools/report/markup.hpp"
#include "tools/report/style_sheet.hpp"

namespace driftglow::report {
namespace {

using results::DesignOutline;
using results::DesignSummary;
using results::FitSummary;
using results::Receiver;
using results::Summary;

std::string paragraph(const std::string& text, const char* style = "") {
  return fmt::format("<p{}>{}</p>\n", *style == '\0' ? std::string() : fmt::format(" class=\"{}\"", style),
                     escape(text));
}

std::string heading(int level, const std::string& text) {
  return fmt::format("<h{0}>{1}</h{0}>\n", level, escape(text));
}

std::string section(const std::string& charts) {
  return "<div class=\"charts\">\n" + charts + "</div>\n";
}

std::string of_design(const Summary& summary, const DesignSummary& design) {
  return summary.designs.size() > 1 ? design.name + ", " : "";
}

std::string duty_table(const Summary& summary) {
  Table table{
      "Duty: share of the time that a tag is lit, mean ± half width of the 95 % interval over replicates",
      {"tag design, emitter", "duty / %", "flashes a minute", "mean lit spell / s", "mean dark spell / s"},
      {}};
  for (const auto& design : summary.designs) {
    for (const auto& fit : design.fits) {
      table.rows.push_back({design.name + ", " + fit.emitter, with_interval(fit.duty, 100.0),
                            with_interval(fit.flashes_per_minute, 1.0), with_interval(fit.mean_on_spell, 1.0),
                            with_interval(fit.mean_off_spell, 1.0)});
    }
  }
  return table_markup(table);
}

std::string difference_table(const Summary& summary) {
  Table table{
      "Differences of duty in percentage points; the fits of a design fly on the same tracks, so chance hits "
      "both alike",
      {"tag design, pair", "difference, same flights", "± if flown apart"},
      {}};
  for (const auto& design : summary.designs) {
    for (const auto& d : design.differences) {
      table.rows.push_back({fmt::format("{}, {} less {}", design.name, design.fits[d.first].emitter,
                                        design.fits[d.second].emitter),
                            with_interval(d.paired, 100.0), number(100.0 * d.unpaired_half_width, 2)});
    }
  }
  return table.rows.empty() ? std::string() : table_markup(table);
}

std::string light_table(const Summary& summary) {
  Table table{
      "Current and light of a tag; means count the dark times too, the effective intensity is that of its "
      "flashes (Blondel–Rey)",
      {"tag design, emitter", "LED current / mA", "light / mcd", "effective intensity / mcd",
       "above a rating / % of the time"},
      {}};
  for (std::size_t d = 0; d < summary.designs.size(); ++d) {
    if (summary.outline.designs[d].receiver == Receiver::threshold) continue;
    for (const auto& fit : summary.designs[d].fits) {
      table.rows.push_back({summary.designs[d].name + ", " + fit.emitter,
                            with_interval(fit.mean_current, 1e3), with_interval(fit.mean_intensity, 1e3),
                            with_interval(fit.effective_intensity, 1e3),
                            with_interval(fit.over_rating, 100.0)});
    }
  }
  return table.rows.empty() ? std::string() : heading(2, "Current and light") + table_markup(table);
}

std::string duty_chart(const Summary& summary) {
  std::vector<Interval> rows;
  double highest = 0.0;
  for (const auto& design : summary.designs) {
    int series = 0;
    for (const auto& fit : design.fits) {
      Interval row{
          design.name + ", " + fit.emitter, series++, 100.0 * fit.duty.mean, 100.0 * fit.duty.half_width, {}};
      for (const auto& tag : fit.tag_duty) row.singles.push_back(100.0 * tag.mean);
      highest = std::max(highest, row.mean + (std::isfinite(row.half_width) ? row.half_width : 0.0));
      for (const double single : row.singles) highest = std::max(highest, single);
      rows.push_back(std::move(row));
    }
  }
  Words words{
      "Duty with 95 % interval; faint dots are the single tags",
      "One row for each fit: a mark at the mean share of the time lit, a whisker for the 95 % interval.",
      Table{}};
  words.values->caption = "Duty of the single tags in percent";
  words.values->head = {"tag design, emitter", "mean", "lowest tag", "highest tag"};
  for (const auto& row : rows) {
    const auto [low, high] = std::minmax_element(row.singles.begin(), row.singles.end());
    words.values->rows.push_back({row.name, number(row.mean, 3), row.singles.empty() ? "–" : number(*low, 3),
                                  row.singles.empty() ? "–" : number(*high, 3)});
  }
  AxisRange axis = round_range("share of the time lit / %", 0.0, highest);
  axis.high = std::min(axis.high, 100.0);
  return interval_chart(words, axis, rows);
}

// The values of a chart's curves at some of their points.
Table curve_values(const std::string& caption, const std::string& x_name, const std::vector<Curve>& curves) {
  constexpr std::size_t rows = 9;
  Table table{caption, {x_name}, {}};
  for (const auto& curve : curves) table.head.push_back(curve.name);
  const std::size_t points = curves.front().x.size();
  for (std::size_t i = 0; i < rows; ++i) {
    const std::size_t at = i * (points - 1) / (rows - 1);
    std::vector<std::string> row{number(curves.front().x[at], 3)};
    for (const auto& curve : curves) row.push_back(number(curve.y[at], 3));
    table.rows.push_back(std::move(row));
  }
  return table;
}

std::string lines(const std::string& title, const std::string& description, const std::string& x_label,
                  const std::string& y_label, const std::vector<Curve>& curves) {
  double low = 0.0, high = 0.0;
  for (const auto& curve : curves) {
    low = std::min(low, *std::min_element(curve.y.begin(), curve.y.end()));
    high = std::max(high, *std::max_element(curve.y.begin(), curve.y.end()));
  }
  const auto& x = curves.front().x;
  return curve_chart({title, description, curve_values(title, x_label, curves)},
                     {x_label, x.front(), x.back()}, round_range(y_label, low, high), curves);
}

constexpr int curve_points = 97;

Curve sampled(const std::string& name, double length, double y_scale, const auto& value) {
  Curve curve{name, {}, {}};
  for (int i = 0; i < curve_points; ++i) {
    const double x = length * i / (curve_points - 1);
    curve.x.push_back(1e3 * x);
    curve.y.push_back(y_scale * value(x));
  }
  return curve;
}

std::string field_charts(const flight::Plan& plan) {
  const double radius = plan.vessel.radius, height = plan.vessel.height;
  const auto axis = sampled("on the axis", height, 1e6, [&](double z) {
    return plan.flux_density_peak({0.0, 0.0, z});
  });
  const auto plane = sampled("at mid-height", radius, 1e6, [&](double r) {
    return plan.flux_density_peak({r, 0.0, 0.5 * height});
  });
  return heading(2, "Drive field") +
         section(lines("Peak flux density along the vessel's axis", "Peak of |B| against height on the axis.",
                       "z / mm", "|B| peak / µT", {axis}) +
                 lines("Peak flux density at mid-height",
                       "Peak of |B| against the distance from the axis, at half the vessel's height.",
                       "r / mm", "|B| peak / µT", {plane}));
}

std::string air_charts(const flight::Plan& plan) {
  std::vector<Curve> up, around;
  const struct {
    const char* name;
    double share;
  } heights[] = {{"floor third", 1.0 / 6.0}, {"middle third", 0.5}, {"top third", 5.0 / 6.0}};
  for (const auto& height : heights) {
    const double z = height.share * plan.vessel.height;
    const std::string name = fmt::format("{:.0f} mm, {}", 1e3 * z, height.name);
    up.push_back(
        sampled(name, plan.vessel.radius, 1.0, [&](double r) { return plan.air.velocity(r, z).u_z; }));
    around.push_back(
        sampled(name, plan.vessel.radius, 1.0, [&](double r) { return plan.air.velocity(r, z).u_theta; }));
  }
  return heading(2, "Air") + section(lines("Upward mean velocity",
                                           "Axial mean velocity against the distance from the axis, in the "
                                           "middle of each third of the height.",
                                           "r / mm", "u_z / (m/s)", up) +
                                     lines("Swirl",
                                           "Azimuthal mean velocity against the distance from the axis, in "
                                           "the middle of each third of the height.",
                                           "r / mm", "u_theta / (m/s)", around));
}

std::string share_of(std::int64_t part, std::int64_t whole) {
  return whole == 0 ? "never there"
                    : number(100.0 * static_cast<double>(part) / static_cast<double>(whole), 3);
}

Table place_values(const FitSummary& fit, const DesignSummary& design) {
  constexpr int r_bins = flight::place_r_bins, z_bins = flight::place_z_bins;
  Table table{"Share of the time there that a tag is lit, in percent",
              {"height", "inner half of the radius", "outer half"},
              {}};
  const char* names[] = {"top third", "middle third", "floor third"};
  for (int third = 0; third < 3; ++third) {
    std::vector<std::string> row{names[third]};
    for (int half = 0; half < 2; ++half) {
      std::int64_t lit = 0, visits = 0;
      for (int i = half * r_bins / 2; i < (half + 1) * r_bins / 2; ++i) {
        for (int j = (2 - third) * z_bins / 3; j < (3 - third) * z_bins / 3; ++j) {
          lit += fit.lit_by_place[i * z_bins + j];
          visits += design.visits[i * z_bins + j];
        }
      }
      row.push_back(share_of(lit, visits));
    }
    table.rows.push_back(std::move(row));
  }
  return table;
}

// Fits of a design share one colour scale, so that they can be compared by eye.
std::string place_charts(const Summary& summary) {
  std::string charts;
  for (const auto& design : summary.designs) {
    double top = 0.0;
    std::vector<std::vector<double>> shares;
    for (const auto& fit : design.fits) {
      std::vector<double> share;
      for (std::size_t i = 0; i < design.visits.size(); ++i) {
        const bool seen = design.visits[i] > 0;
        share.push_back(seen
                            ? static_cast<double>(fit.lit_by_place[i]) / static_cast<double>(design.visits[i])
                            : std::numeric_limits<double>::quiet_NaN());
        if (seen) top = std::max(top, share.back());
      }
      shares.push_back(std::move(share));
    }
    for (std::size_t f = 0; f < design.fits.size(); ++f) {
      charts += place_chart({of_design(summary, design) + design.fits[f].emitter,
                             "Share of the time there that a tag is lit, over distance from the axis and "
                             "height; places where no tag's "
                             "centre came are hatched.",
                             place_values(design.fits[f], design)},
                            {summary.outline.vessel_radius, summary.outline.vessel_height,
                             flight::place_r_bins, flight::place_z_bins, shares[f], top});
    }
  }
  return heading(2, "Glow by place") +
         paragraph(
             "Half section of the vessel, axis on the left. Colour: share of the time there that a tag is "
             "lit; hatched: no tag's "
             "centre came there.",
             "soft") +
         section(charts);
}

std::string motion_table(const Summary& summary) {
  Table table{
      "Pinned: in contact and moved less than its radius in half a second. Touching: in contact with "
      "anything fixed.",
      {"tag design", "pinned, wall / %", "pinned, floor / %", "pinned, lid / %", "touching / %",
       "speed / (m/s)", "height / mm"},
      {}};
  for (const auto& design : summary.designs) {
    std::vector<std::string> row{design.name};
    for (const auto& share : design.pinned) row.push_back(with_interval(share, 100.0));
    row.insert(row.end(), {with_interval(design.touching, 100.0), with_interval(design.mean_speed, 1.0),
                           with_interval(design.mean_height, 1e3)});
    table.rows.push_back(std::move(row));
  }
  return heading(2, "Motion") + table_markup(table);
}

// Share of the spells in each bin against the bin's middle, cut to the bins that are in use.
std::string spell_chart(const std::string& title, const std::string& description, const DesignSummary& design,
                        flight::SpellCounts FitSummary::*counts) {
  int first = flight::spell_bins, last = -1;
  for (const auto& fit : design.fits) {
    for (int bin = 0; bin < flight::spell_bins; ++bin) {
      if ((fit.*counts)[bin] == 0) continue;
      first = std::min(first, bin);
      last = std::max(last, bin);
    }
  }
  if (last < 0) return "";
  std::vector<Curve> curves;
  double highest = 0.0;
  Table table{title + ": number of whole spells", {"length from / s"}, {}};
  for (int bin = first; bin <= last; ++bin) table.rows.push_back({number(flight::spell_bin_start(bin), 3)});
  for (const auto& fit : design.fits) {
    std::int64_t sum = 0;
    for (const auto count : fit.*counts) sum += count;
    Curve curve{fit.emitter, {}, {}};
    for (int bin = first; bin <= last; ++bin) {
      const auto count = (fit.*counts)[bin];
      table.rows[bin - first].push_back(fmt::format("{}", count));
      const double share = sum > 0 ? 100.0 * static_cast<double>(count) / static_cast<double>(sum) : 0.0;
      // A staircase: both ends of each bin.
      for (const int edge : {bin, bin + 1}) {
        curve.x.push_back(flight::spell_bin_start(edge));
        curve.y.push_back(share);
      }
      highest = std::max(highest, share);
    }
    table.head.push_back(fit.emitter);
    curves.push_back(std::move(curve));
  }
  const AxisRange x{"length / s", std::pow(10.0, std::floor(first / 8.0) - 4.0),
                    std::pow(10.0, std::ceil((last + 1) / 8.0) - 4.0), Scale::decades};
  return curve_chart({title, description, table}, x, round_range("share of the spells / %", 0.0, highest),
                     curves);
}

std::string spell_charts(const Summary& summary) {
  std::string charts;
  for (const auto& design : summary.designs) {
    charts += spell_chart(of_design(summary, design) + "lit spells by length",
                          "Share of the lit spells in bins of an eighth of a decade.", design,
                          &FitSummary::on_spells);
    charts += spell_chart(of_design(summary, design) + "dark spells by length",
                          "Share of the dark spells in bins of an eighth of a decade.", design,
                          &FitSummary::off_spells);
  }
  return charts.empty() ? charts : heading(2, "Spells") + section(charts);
}

std::string vessel_part(const Summary& summary) {
  const auto& vessel = summary.vessel;
  std::vector<double> heights;
  const std::string title = "Number of tags lit at once";
  Words words{title, "Share of the time with 0, 1, 2 … tags lit, each tag with the emitter that it carries.",
              Table{title, {"tags lit", "share of the time / %"}, {}}};
  for (std::size_t lit = 0; lit < vessel.lit_at_once.size(); ++lit) {
    heights.push_back(100.0 * vessel.lit_at_once[lit].mean);
    words.values->rows.push_back({fmt::format("{}", lit), with_interval(vessel.lit_at_once[lit], 100.0)});
  }
  std::string out =
      heading(2, "The whole vessel") +
      paragraph(fmt::format("Of {} tags, {} are lit at a time. The longest time with none lit was {} s.",
                            summary.outline.tags, with_interval(vessel.mean_lit, 1.0),
                            number(vessel.longest_dark, 3))) +
      section(bar_chart(words, "tags lit", "share of the time / %", heights));
  Table light{"Mean light of the vessel by colour", {"colour", "light / mcd"}, {}};
  for (std::size_t i = 0; i < vessel.colour_intensity.size(); ++i) {
    light.rows.push_back({summary.outline.colours[i], with_interval(vessel.colour_intensity[i], 1e3)});
  }
  const auto circuit = [](const DesignOutline& design) { return design.receiver == Receiver::circuit; };
  const auto& designs = summary.outline.designs;
  return std::any_of(designs.begin(), designs.end(), circuit) && !light.rows.empty()
             ? out + table_markup(light)
             : out;
}

std::string notices(const Summary& summary, const std::vector<std::string>& cautions) {
  std::string out;
  if (summary.interrupted) {
    out += "<div class=\"alert\" role=\"note\"><h2>Interrupted</h2>" +
           paragraph("The flight was stopped early; what follows is of the replicates that were finished.") +
           "</div>\n";
  }
  if (summary.numbers.size() == 1) {
    out += "<div class=\"alert\" role=\"note\"><h2>One replicate</h2>" +
           paragraph("There is no interval: fly more replicates.") + "</div>\n";
  }
  if (cautions.empty()) return out;
  out += "<div class=\"alert\" role=\"note\"><h2>Cautions</h2><ul>\n";
  for (const auto& caution : cautions) out += "<li>" + escape(caution) + "</li>\n";
  return out + "</ul></div>\n";
}

std::string conditions(const Summary& summary) {
  const auto& outline = summary.outline;
  const auto seconds = [&](std::int64_t steps) { return static_cast<double>(steps) * outline.clock.step; };
  return fmt::format("{} replicate{} of {:g} s after {:g} s of warm-up, step {:g} ms, seed {}.",
                     summary.numbers.size(), summary.numbers.size() == 1 ? "" : "s",
                     seconds(outline.clock.duration), seconds(outline.clock.warmup), 1e3 * outline.clock.step,
                     outline.seed);
}

}  // namespace

std::string verdict(const DesignSummary& design, const DesignOutline& outline) {
  std::string text;
  for (std::size_t f = 0; f < design.fits.size(); ++f) {
    const auto& fit = design.fits[f];
    const std::string duty = with_interval(fit.duty, 100.0);
    if (outline.receiver == Receiver::threshold) {
      text += fmt::format("{}the threshold is reached {} % of the time", f == 0 ? "" : ", ", duty);
    } else if (f == 0) {
      text += fmt::format("{} glows {} % of the time", fit.emitter, duty);
    } else {
      text += fmt::format(", {} {} %", fit.emitter, duty);
    }
  }
  for (std::size_t i = 0; i < design.differences.size(); ++i) {
    const auto& d = design.differences[i];
    statistics::Estimate apart = d.paired;
    apart.mean = std::abs(apart.mean);
    // With two fits it is plain which are meant.
    const std::string pair =
        design.fits.size() == 2
            ? std::string()
            : fmt::format("{} and {} are ", design.fits[d.first].emitter, design.fits[d.second].emitter);
    text += fmt::format("{}{}{} points apart{}", i == 0 ? "; " : ", ", pair, with_interval(apart, 100.0),
                        i + 1 == design.differences.size() ? " on the same flights" : "");
  }
  return text + ".";
}

std::string render_report(const scenario::Scenario& scenario, const flight::Plan& plan,
                          const Summary& summary, const std::vector<std::string>& cautions,
                          const std::string& program_version) {
  const std::string title = scenario.title.empty() ? scenario.name : scenario.title;
  std::string out =
      "<!DOCTYPE html>\n<html lang=\"en\" xmlns=\"http://www.w3.org/1999/xhtml\"><head><meta "
      "charset=\"utf-8\"/>\n"
      "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'; "
      "base-uri 'none'; form-action "
      "'none'\"/>\n<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n<meta "
      "name=\"referrer\" "
      "content=\"no-referrer\"/>\n<title>" +
      escape(title) + "</title>\n<style>\n" + std::string(style_sheet()) + "</style></head>\n<body><main>\n";
  out += heading(1, title);
  for (std::size_t d = 0; d < summary.designs.size(); ++d) {
    const auto& outline = summary.outline.designs[d];
    out += paragraph(fmt::format("{} ({} {}): {}", outline.name, outline.count,
                                 outline.count == 1 ? "tag" : "tags", verdict(summary.designs[d], outline)),
                     "verdict");
  }
  out += paragraph(conditions(summary), "soft") + notices(summary, cautions);
  out += heading(2, "Duty") + duty_table(summary) + difference_table(summary) + section(duty_chart(summary));
  out += vessel_part(summary) + light_table(summary) + place_charts(summary) + spell_charts(summary) +
         motion_table(summary);
  out += field_charts(plan) + air_charts(plan);
  out += "<footer>" +
         paragraph(fmt::format("driftglow {}; scenario {}, SHA-256 {}", program_version, scenario.name,
                               scenario.hash),
                   "soft") +
         paragraph(
             "A calculation, not a measurement: check the first built tag on the bench and in the air before "
             "the rest are made.",
             "soft");
  return out + "</footer>\n</main></body></html>\n";
}

}  // namespace driftglow::report
