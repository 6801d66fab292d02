#include "tools/report/report.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "models/light/screen_colour.hpp"
#include "tools/report/chart.hpp"
#include "tools/report/make_setting.hpp"
#include "tools/report/maps.hpp"
#include "tools/report/markup.hpp"
#include "tools/report/page.hpp"
#include "tools/report/replay_part.hpp"

namespace driftglow::report {
namespace {

using results::DesignOutline;
using results::DesignSummary;
using results::FitSummary;
using results::Receiver;
using results::Summary;

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

std::string parameter_table(const Summary& summary) {
  if (!summary.parameters) return "";
  Table table{
      fmt::format(
          "What the duties' 95 % intervals are made of, ± in percentage points: chance in {} replicates, and "
          "what {} left uncertain of {} tuned values",
          summary.numbers.size(), summary.parameters->readings, summary.parameters->values),
      {"tag design, emitter", "statistical", "parameter", "together"},
      {}};
  for (const auto& design : summary.designs)
    for (const auto& fit : design.fits)
      table.rows.push_back({design.name + ", " + fit.emitter, number(100.0 * fit.duty.half_width, 2),
                            number(100.0 * *fit.parameter_half_width, 2),
                            number(100.0 * total_half_width(fit), 2)});
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
  return table.rows.empty() ? std::string() : table_markup(table);
}

std::string duty_chart(const Summary& summary) {
  std::vector<Interval> rows;
  for (const auto& design : summary.designs) {
    int series = 0;
    for (const auto& fit : design.fits) {
      Interval row = interval_of(design.name + ", " + fit.emitter, series++, fit.duty, 100.0);
      for (const auto& tag : fit.tag_duty) row.singles.push_back(100.0 * tag.mean);
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
    words.values->rows.push_back({row.name, number(row.value, 3), row.singles.empty() ? "–" : number(*low, 3),
                                  row.singles.empty() ? "–" : number(*high, 3)});
  }
  AxisRange axis = round_range("share of the time lit / %", 0.0, reach_of(rows)[1]);
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

// The field on the section's line nearest to x = 0 and its row nearest to mid-height.
std::string field_part(const results::Setting& setting) {
  const auto& grid = setting.section;
  const auto value = [&](int i, int j) {
    return 1e6 * setting.flux_density[static_cast<std::size_t>(i) * grid.nodes[1] + j];
  };
  Curve axis{"on the axis", {}, {}}, plane{"at mid-height", {}, {}};
  const int middle = grid.nodes[0] / 2;
  for (int j = 0; j < grid.nodes[1]; ++j) {
    axis.x.push_back(1e3 * grid.at(1, j));
    axis.y.push_back(value(middle, j));
  }
  const double half_height = 0.5 * setting.outline.vessel_height;
  const int row = static_cast<int>(
      std::lround((half_height - grid.low[1]) / (grid.high[1] - grid.low[1]) * (grid.nodes[1] - 1)));
  for (int i = 0; i < grid.nodes[0]; ++i) {
    if (std::abs(grid.at(0, i)) > setting.outline.radius_at(half_height)) continue;
    plane.x.push_back(1e3 * grid.at(0, i));
    plane.y.push_back(value(i, row));
  }
  return chart_group(field_map(setting) +
                     lines("Peak flux density along the vessel's axis",
                           "Peak of |B| against height on the axis.", "z / mm", "|B| peak / µT", {axis}) +
                     lines("Peak flux density across the vessel at mid-height",
                           "Peak of |B| against x in the plane y = 0, at half the vessel's height.", "x / mm",
                           "|B| peak / µT", {plane}));
}

std::string air_part(const results::Setting& setting) {
  const auto& grid = setting.half_section;
  const auto still = [](const std::vector<double>& u) {
    return std::all_of(u.begin(), u.end(), [](double value) { return value == 0.0; });
  };
  if (still(setting.u_r) && still(setting.u_theta) && still(setting.u_z))
    return paragraph("The air stands still.");
  std::vector<Curve> up, around;
  const struct {
    const char* name;
    double share;
  } heights[] = {{"floor third", 1.0 / 6.0}, {"middle third", 0.5}, {"top third", 5.0 / 6.0}};
  for (const auto& height : heights) {
    const int j = static_cast<int>(std::lround(height.share * (grid.nodes[1] - 1)));
    Curve rise{fmt::format("{:.0f} mm, {}", 1e3 * grid.at(1, j), height.name), {}, {}};
    Curve swirl = rise;
    for (int i = 0; i < grid.nodes[0]; ++i) {
      const std::size_t at = static_cast<std::size_t>(i) * grid.nodes[1] + j;
      for (Curve* curve : {&rise, &swirl}) curve->x.push_back(1e3 * grid.at(0, i));
      rise.y.push_back(setting.u_z[at]);
      swirl.y.push_back(setting.u_theta[at]);
    }
    up.push_back(std::move(rise));
    around.push_back(std::move(swirl));
  }
  return chart_group(
      air_map(setting) +
      lines("Upward mean velocity",
            "Axial mean velocity against the distance from the axis, in the middle of each third "
            "of the height.",
            "r / mm", "u_z / (m/s)", up) +
      lines("Swirl",
            "Azimuthal mean velocity against the distance from the axis, in the middle of each "
            "third of the height.",
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
  return paragraph(
             "Half section of the vessel, axis on the left. Colour: share of the time there that a tag is "
             "lit; hatched: no tag's "
             "centre came there.",
             "soft") +
         chart_group(charts);
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
  return table_markup(table);
}

std::string power_table(const Summary& summary) {
  if (!summary.energy) return "";
  const auto& energy = *summary.energy;
  Table table{fmt::format("Mean power from {} and where it goes; the balance is kept within {:.1g} in every "
                          "replicate. Tags draw as their nominal circuits do where they are.",
                          results::words(energy.source), energy.worst_violation),
              {"what", "power / W", "share / %"},
              {}};
  const auto terms = flight::ledger_terms();
  for (std::size_t i = 0; i < terms.size(); ++i)
    table.rows.push_back({terms[i].meaning, with_interval(energy.terms[i], 1.0),
                          number(100.0 * energy.terms[i].mean / energy.terms.front().mean, 2)});
  return table_markup(table);
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
  return charts.empty() ? charts : chart_group(charts);
}

std::string pinned_chart(const Summary& summary) {
  std::vector<Interval> rows;
  for (const auto& design : summary.designs) {
    for (int s = 0; s < motion::surfaces; ++s) {
      rows.push_back(
          interval_of(of_design(summary, design) + results::surface_name(s), s, design.pinned[s], 100.0));
    }
  }
  AxisRange axis = round_range("share of the time pinned / %", 0.0, std::max(1.0, reach_of(rows)[1]));
  axis.high = std::min(axis.high, 100.0);
  return interval_chart({"Pinned, by surface, with 95 % interval",
                         "One row for each surface: share of the time that a tag is stuck there.",
                         {}},
                        axis, rows);
}

std::string dark_chart(const Summary& summary) {
  const auto& dark = summary.vessel.longest_dark_each;
  constexpr double none = std::numeric_limits<double>::quiet_NaN();
  const std::vector<Interval> rows{interval_of("mean of the replicates", 0, dark, 1.0),
                                   {"longest of all", 1, summary.vessel.longest_dark, none, none}};
  return interval_chart({"Longest time with no tag lit",
                         "The longest dark spell of a replicate, mean with 95 % interval, and the longest of "
                         "all replicates.",
                         {}},
                        round_range("longest dark spell / s", 0.0, reach_of(rows)[1]), rows);
}

std::string light_chart(const Summary& summary) {
  std::vector<Interval> rows;
  for (std::size_t i = 0; i < summary.vessel.colour_intensity.size(); ++i) {
    rows.push_back(interval_of(summary.outline.colours[i], static_cast<int>(i),
                               summary.vessel.colour_intensity[i], 1e3));
  }
  return rows.empty() ? ""
                      : interval_chart({"Light of the whole vessel, by colour",
                                        "Mean total luminous intensity of the tags that carry a colour, with "
                                        "95 % interval; dark times count.",
                                        {}},
                                       round_range("light / mcd", 0.0, reach_of(rows)[1]), rows);
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
  return paragraph(fmt::format("Of {} tags, {} are lit at a time. The longest time with none lit was {} s.",
                               summary.outline.tags, with_interval(vessel.mean_lit, 1.0),
                               number(vessel.longest_dark, 3))) +
         chart_group(bar_chart(words, "tags lit", "share of the time / %", heights) + light_chart(summary) +
                     dark_chart(summary));
}

std::string notices(const Summary& summary, const std::vector<std::string>& cautions) {
  std::string out;
  if (summary.interrupted)
    out += alert(
        "Interrupted",
        paragraph("The flight was stopped early; what follows is of the replicates that were finished."));
  if (summary.numbers.size() == 1)
    out += alert("One replicate", paragraph("There is no interval: fly more replicates."));
  if (cautions.empty()) return out;
  std::string list = "<ul>\n";
  for (const auto& caution : cautions) list += "<li>" + escape(caution) + "</li>\n";
  return out + alert("Cautions", list + "</ul>");
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

namespace {

// The fit's colour: of a pair both LEDs' light as the flight gave it.
std::string chip(const results::FitLook& look, const FitSummary& fit) {
  std::array<double, 3> xyz{};
  for (std::size_t led = 0; led < look.size(); ++led) {
    const double light = look.size() == 1 ? 1.0 : fit.emitter_intensity[led].mean;
    for (int c = 0; c < 3; ++c) xyz[c] += light * look[led].xyz_per_current[c] / look[led].xyz_per_current[1];
  }
  if (!(xyz[1] > 0.0)) return "";
  for (const double luminous = xyz[1]; double& value : xyz) value /= luminous;
  auto rgb = light::screen_colour(xyz);
  const double brightest = std::max({rgb[0], rgb[1], rgb[2]});
  std::string hex;
  for (const double component : rgb)
    hex += fmt::format("{:02x}", std::lround(255.0 * light::encoded(component / brightest)));
  return fmt::format(
      "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"chip\" viewBox=\"0 0 40 40\" aria-hidden=\"true\">"
      "<title>glow</title><desc>the emitter's colour</desc><circle cx=\"20\" cy=\"20\" r=\"19\" "
      "class=\"night\"/>"
      "<circle cx=\"20\" cy=\"20\" r=\"15\" fill=\"#{0}\" fill-opacity=\".22\"/><circle cx=\"20\" cy=\"20\" "
      "r=\"10\" "
      "fill=\"#{0}\" fill-opacity=\".45\"/><circle cx=\"20\" cy=\"20\" r=\"6\" fill=\"#{0}\"/></svg>",
      hex);
}

std::string head_cards(const results::Setting& setting, const Summary& summary) {
  std::string out = "<div class=\"cards\">\n";
  for (std::size_t d = 0; d < summary.designs.size(); ++d) {
    for (std::size_t f = 0; f < summary.designs[d].fits.size(); ++f) {
      const auto& fit = summary.designs[d].fits[f];
      out += "<div class=\"card\">" + chip(setting.glow[d][f], fit) + "<p class=\"name\">" +
             escape(of_design(summary, summary.designs[d]) + fit.emitter) + "</p><p class=\"big\">" +
             escape(with_interval(fit.duty, 100.0)) + " %</p><p class=\"soft\">of the time lit</p></div>\n";
    }
  }
  return out + "</div>\n";
}

}  // namespace

std::string render_report(const results::Setting& setting, const flight::CampaignResult& campaign,
                          const store::Origin& origin) {
  auto summary = results::summarise(setting.outline, campaign);
  if (setting.parameters) results::add(*setting.parameters, summary);
  const auto cautions = all_cautions(setting, summary);
  const flight::Trace* trace = nullptr;
  for (const auto& replicate : campaign.replicates)
    if (trace == nullptr && !replicate.trace.time.empty()) trace = &replicate.trace;
  const std::string title = setting.title.empty() ? setting.name : setting.title;
  std::string head;
  for (std::size_t d = 0; d < summary.designs.size(); ++d) {
    const auto& outline = summary.outline.designs[d];
    head += paragraph(fmt::format("{} ({} {}): {}", outline.name, outline.count,
                                  outline.count == 1 ? "tag" : "tags", verdict(summary.designs[d], outline)),
                      "verdict");
  }
  head += head_cards(setting, summary) + paragraph(conditions(summary), "soft") +
          "<div class=\"opening\"><div>" + notices(summary, cautions) +
          "</div><section aria-labelledby=\"design-sheet\"><h2 id=\"design-sheet\">Design sheet</h2>"
          "<div class=\"scroll sheet\" tabindex=\"0\" role=\"region\" aria-label=\"Design sheet\"><pre>" +
          escape(setting.sheet) + "</pre></div></section></div>\n";
  return render_page("flight report", title, head,
                     {{"Replay", replay_part(setting, summary, trace)},
                      {"Duty", duty_table(summary) + parameter_table(summary) + difference_table(summary) +
                                   chart_group(duty_chart(summary))},
                      {"The whole vessel", vessel_part(summary)},
                      {"Current and light", light_table(summary)},
                      {"Glow by place", place_charts(summary)},
                      {"Spells", spell_charts(summary)},
                      {"Motion", motion_table(summary) + chart_group(pinned_chart(summary))},
                      {"Power", power_table(summary)},
                      {"Drive field", field_part(setting)},
                      {"Air", air_part(setting)}},
                     paragraph(fmt::format("driftglow {}; scenario {}, SHA-256 {}", origin.program_version,
                                           setting.name, origin.scenario_hash),
                               "soft"));
}

}  // namespace driftglow::report
