#include "tools/report/study_report.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "sim/study/analysis.hpp"
#include "tools/report/chart.hpp"
#include "tools/report/markup.hpp"
#include "tools/report/page.hpp"

namespace driftglow::report {
namespace {

using statistics::Estimate;
using study::Document;
using study::Ranking;
using study::Study;
using study::Want;

// Rows that a page can carry; study.csv has all.
constexpr std::size_t most_rows = 1000;

// How an output is shown: its value in the files times `scale`.
struct Shown {
  std::string label;  // with the unit
  std::string unit;   // after a number in a sentence, with a space before it
  double scale;
};

// Of a flight the column's name says the unit (results::fit_quantities); the sheet's numbers are SI.
Shown shown_as(const study::Output& output) {
  if (output.document == Document::sheet) return {output.name, "", 1.0};
  // The last name of the path, without an index.
  std::string last = output.path;
  if (last.ends_with(']')) last.resize(last.rfind('['));
  last = last.substr(last.rfind('.') + 1);
  if (last.starts_with("duty") || last.find("share") != std::string::npos)
    return {output.name + " / %", " %", 100.0};
  const struct {
    const char *suffix, *unit;
    double scale;
  } units[] = {{"_cd", "mcd", 1e3}, {"_A", "mA", 1e3}, {"_m", "mm", 1e3}, {"_s", "s", 1.0}};
  for (const auto& known : units)
    if (last.ends_with(known.suffix))
      return {output.name + " / " + known.unit, std::string(" ") + known.unit, known.scale};
  return {output.name, "", 1.0};
}

// What the page's parts share.
struct View {
  const Study& study;
  const study::Table& table;
  Ranking ranking;
  std::vector<int> pareto;
  std::vector<Shown> shown;  // [output]

  View(const Study& given, const study::Table& results)
      : study(given),
        table(results),
        ranking(study::rank(given, results)),
        pareto(study::pareto_set(given, results, ranking.order)) {
    for (const auto& output : given.outputs) shown.push_back(shown_as(output));
  }

  bool flew(int design) const {
    return table.results[design].refused.empty() && table.results[design].replicates > 0;
  }
  Estimate estimate(int design, std::size_t output) const {
    return study::estimate_of(study, table.results[design], output);
  }
  // Without a width where there is none by nature.
  std::string value(int design, std::size_t output) const {
    const auto found = estimate(design, output);
    const double scale = shown[output].scale;
    return study.outputs[output].document == Document::sheet ? number(scale * found.mean, 4)
                                                             : with_interval(found, scale);
  }
  std::string values_of(int design) const {
    std::string text;
    for (std::size_t k = 0; k < study.variables.size(); ++k)
      text += fmt::format("{}{} {}", k == 0 ? "" : ", ", study.variables[k].name,
                          study.shown(k, table.designs[design][k]));
    return text;
  }
  std::size_t refused() const {
    return static_cast<std::size_t>(
        std::count_if(table.results.begin(), table.results.end(),
                      [](const study::DesignResult& result) { return !result.refused.empty(); }));
  }
};

const char* wanted(Want want) {
  return want == Want::most ? "most" : "least";
}

// Ranks that are not distinct from the first.
std::vector<std::size_t> like_the_best(const View& view) {
  std::set<int> alike;
  const auto& order = view.ranking.order;
  for (const auto& comparison : view.ranking.comparisons)
    if (comparison.first == order.front() && !comparison.distinct) alike.insert(comparison.second);
  std::vector<std::size_t> ranks;
  for (std::size_t i = 1; i < order.size(); ++i)
    if (alike.contains(order[i])) ranks.push_back(i + 1);
  return ranks;
}

std::string distinctness(const View& view) {
  if (view.ranking.order.size() < 2) return "";
  constexpr std::size_t most_named = 8;
  const auto alike = like_the_best(view);
  if (alike.empty()) return " It is statistically distinct from every other one.";
  if (alike.size() > most_named)
    return fmt::format(" {} others are not statistically distinct from it.", alike.size());
  return fmt::format(" Not statistically distinct from it: rank{} {}.", alike.size() == 1 ? "" : "s",
                     fmt::join(alike, ", "));
}

std::string count_of(const View& view) {
  const auto& ranking = view.ranking;
  std::string text =
      fmt::format("{} design{}", view.table.designs.size(), view.table.designs.size() == 1 ? "" : "s");
  const std::size_t outside = ranking.outside.size(), refused = view.refused();
  if (outside + refused == 0) return text;
  text += " (";
  if (outside > 0) text += fmt::format("{} outside the limits", outside);
  if (refused > 0) text += fmt::format("{}{} cannot be built", outside > 0 ? ", " : "", refused);
  return text + ")";
}

std::string verdict_of(const View& view) {
  const auto& goal = view.study.goals.front();
  const auto& name = view.study.outputs[goal.output].name;
  if (view.ranking.order.empty()) return fmt::format("Of {}, none keeps the limits.", count_of(view));
  const int best = view.ranking.order.front();
  std::string text =
      fmt::format("Of {}, the one with the {} {} has {}: {}{}.", count_of(view), wanted(goal.want), name,
                  view.values_of(best), view.value(best, goal.output), view.shown[goal.output].unit);
  text += distinctness(view);
  if (view.study.goals.size() > 1) {
    const auto& second = view.study.goals[1];
    const auto& other = view.study.outputs[second.output].name;
    text += view.pareto.size() == 1
                ? fmt::format(" It has the {} {} too.", wanted(second.want), other)
                : fmt::format(" {} designs trade the {} {} for the {} {}.", view.pareto.size(),
                              wanted(goal.want), name, wanted(second.want), other);
  }
  return text;
}

std::string indices_in_words(const View& view,
                             const std::vector<std::vector<statistics::SobolEstimate>>& indices) {
  if (indices.empty()) return "";
  const std::size_t output = view.study.goals.front().output;
  std::vector<std::size_t> order(view.study.variables.size());
  for (std::size_t k = 0; k < order.size(); ++k) order[k] = k;
  const auto total = [&](std::size_t k) { return indices[output][k].value.total; };
  if (!std::all_of(order.begin(), order.end(), [&](std::size_t k) { return std::isfinite(total(k)); }))
    return "";
  std::stable_sort(order.begin(), order.end(),
                   [&](std::size_t a, std::size_t b) { return total(a) > total(b); });
  std::string text = "Of the variance of " + view.study.outputs[output].name + " over the designs, ";
  for (std::size_t i = 0; i < order.size(); ++i) {
    const auto& index = indices[output][order[i]];
    text += fmt::format("{}{} has a part in {:.0f} % ({:.0f} to {:.0f})", i == 0 ? "" : ", ",
                        view.study.variables[order[i]].name, 100.0 * index.value.total + 0.0,
                        100.0 * index.total.low + 0.0, 100.0 * index.total.high + 0.0);
  }
  return text + ".";
}

std::string asked_table(const View& view) {
  Table table{
      "What was looked at; numbers of the sheet are in SI units", {"output", "path", "goal", "limit"}, {}};
  for (std::size_t o = 0; o < view.study.outputs.size(); ++o) {
    const auto& output = view.study.outputs[o];
    std::string goal, limits;
    for (std::size_t g = 0; g < view.study.goals.size(); ++g)
      if (view.study.goals[g].output == o)
        goal = fmt::format("{} ({})", wanted(view.study.goals[g].want), g == 0 ? "first" : "second");
    for (const auto& limit : view.study.limits) {
      if (limit.output != o) continue;
      const auto bound = [&](const char* sign, double value) {
        limits += fmt::format("{}{} {}{}", limits.empty() ? "" : ", ", sign,
                              number(view.shown[o].scale * value, 4), view.shown[o].unit);
      };
      if (limit.least) bound("≥", *limit.least);
      if (limit.most) bound("≤", *limit.most);
    }
    table.rows.push_back({output.name,
                          (output.document == Document::sheet ? "sheet." : "flight.") + output.path, goal,
                          limits});
  }
  return table_markup(table);
}

std::string ranked_table(const View& view) {
  const auto& study = view.study;
  const auto& ranking = view.ranking;
  const std::size_t goal = study.goals.front().output;
  Table table{
      fmt::format("Ranked by {}, {} first. Distinct: by paired differences on the replicates that both flew, "
                  "Student's t, {}'s correction over all pairs, at 5 % together. Intervals 95 %",
                  study.outputs[goal].name, wanted(study.goals.front().want), ranking.correction),
      {"rank", "design"},
      {}};
  for (const auto& variable : study.variables) table.head.push_back(variable.name);
  for (const auto& shown : view.shown) table.head.push_back(shown.label);
  for (const char* head :
       {"replicates", "from the best, same flights", "distinct from the best", "distinct from the next"})
    table.head.emplace_back(head);
  if (study.goals.size() > 1) table.head.emplace_back("Pareto set");
  std::map<std::pair<int, int>, const study::Comparison*> comparisons;
  for (const auto& comparison : ranking.comparisons)
    comparisons[{comparison.first, comparison.second}] = &comparison;
  const auto compared = [&](int a, int b) {
    const auto found = comparisons.find({a, b});
    return found == comparisons.end() ? nullptr : found->second;
  };
  const auto told = [&](const study::Comparison* comparison) {
    return std::string(comparison == nullptr ? "–" : comparison->distinct ? "yes" : "no");
  };
  const auto row_of = [&](int design, const std::string& rank) {
    std::vector<std::string> row{rank, std::to_string(design)};
    for (std::size_t k = 0; k < study.variables.size(); ++k)
      row.push_back(study.shown(k, view.table.designs[design][k]));
    for (std::size_t o = 0; o < study.outputs.size(); ++o) row.push_back(view.value(design, o));
    row.push_back(std::to_string(view.table.results[design].replicates));
    return row;
  };
  const auto& order = ranking.order;
  for (std::size_t i = 0; i < std::min(order.size(), most_rows); ++i) {
    auto row = row_of(order[i], std::to_string(i + 1));
    const auto* best = i == 0 ? nullptr : compared(order.front(), order[i]);
    Estimate behind = best == nullptr ? statistics::estimate({}) : best->paired;
    behind.mean = -behind.mean;
    row.push_back(with_interval(behind, view.shown[goal].scale));
    row.push_back(told(best));
    row.push_back(i + 1 < order.size() ? told(compared(order[i], order[i + 1])) : "–");
    if (study.goals.size() > 1)
      row.push_back(std::find(view.pareto.begin(), view.pareto.end(), order[i]) == view.pareto.end() ? "no"
                                                                                                     : "yes");
    table.rows.push_back(std::move(row));
  }
  const std::size_t room = most_rows - table.rows.size();
  for (std::size_t i = 0; i < std::min(ranking.outside.size(), room); ++i) {
    auto row = row_of(ranking.outside[i], "outside");
    row.resize(table.head.size(), "–");
    table.rows.push_back(std::move(row));
  }
  std::string note;
  if (!ranking.outside.empty())
    note += paragraph("Outside: breaks a limit by its mean and takes no rank.", "soft");
  if (order.size() + ranking.outside.size() > most_rows)
    note += paragraph(
        fmt::format("{} more rows stand in study.csv.", order.size() + ranking.outside.size() - most_rows),
        "soft");
  return table_markup(table) + note;
}

std::string tip_of(const View& view, int design) {
  std::string tip = fmt::format("design {}", design);
  for (std::size_t k = 0; k < view.study.variables.size(); ++k)
    tip += fmt::format("\n{}: {}", view.study.variables[k].name,
                       view.study.shown(k, view.table.designs[design][k]));
  for (const auto& goal : view.study.goals)
    tip += fmt::format("\n{}: {}{}", view.study.outputs[goal.output].name, view.value(design, goal.output),
                       view.shown[goal.output].unit);
  return tip;
}

std::string pareto_part(const View& view) {
  const auto& study = view.study;
  if (study.goals.size() < 2) return "";
  std::vector<Dot> dots;
  std::map<int, std::size_t> number_of;
  std::array<std::vector<Interval>, 2> extents;
  for (int design = 0; design < static_cast<int>(view.table.designs.size()); ++design) {
    if (!view.flew(design)) continue;
    const bool front = std::find(view.pareto.begin(), view.pareto.end(), design) != view.pareto.end();
    Dot dot{{},
            {},
            front ? Standing::front
                  : (study::keeps_limits(study, view.table.results[design]) ? Standing::inside
                                                                            : Standing::outside),
            std::to_string(design),
            tip_of(view, design)};
    for (int axis = 0; axis < 2; ++axis) {
      const std::size_t output = study.goals[axis].output;
      const auto found = view.estimate(design, output);
      dot.at[axis] = view.shown[output].scale * found.mean;
      dot.half_width[axis] = view.shown[output].scale * found.half_width;
    }
    if (!std::isfinite(dot.at[0]) || !std::isfinite(dot.at[1])) continue;
    for (int axis = 0; axis < 2; ++axis)
      extents[axis].push_back({"", 0, dot.at[axis], dot.at[axis] - (front ? dot.half_width[axis] : 0.0),
                               dot.at[axis] + (front ? dot.half_width[axis] : 0.0)});
    number_of[design] = dots.size();
    dots.push_back(std::move(dot));
  }
  if (dots.empty()) return "";
  std::array<AxisRange, 2> axes;
  for (int axis = 0; axis < 2; ++axis) {
    const auto [low, high] = reach_of(extents[axis]);
    axes[axis] = round_range(view.shown[study.goals[axis].output].label, low, high);
  }
  std::vector<std::size_t> front;
  for (const int design : view.pareto)
    if (number_of.contains(design)) front.push_back(number_of.at(design));
  std::vector<LimitLine> lines;
  for (const auto& limit : study.limits) {
    for (int axis = 0; axis < 2; ++axis) {
      if (study.goals[axis].output != limit.output) continue;
      for (const auto& bound : {limit.least, limit.most})
        if (bound) lines.push_back({axis, view.shown[limit.output].scale * *bound});
    }
  }
  Table values{"Pareto set", {"design"}, {}};
  for (const auto& variable : study.variables) values.head.push_back(variable.name);
  for (const auto& goal : study.goals) values.head.push_back(view.shown[goal.output].label);
  for (const int design : view.pareto) {
    std::vector<std::string> row{std::to_string(design)};
    for (std::size_t k = 0; k < study.variables.size(); ++k)
      row.push_back(study.shown(k, view.table.designs[design][k]));
    for (const auto& goal : study.goals) row.push_back(view.value(design, goal.output));
    values.rows.push_back(std::move(row));
  }
  const auto& first = study.goals[0];
  const auto& second = study.goals[1];
  return paragraph(
             fmt::format("Joined by the line: designs of which none has {} {} without giving up {}. Numbers "
                         "are those of the designs; whiskers are 95 % intervals.",
                         first.want == Want::most ? "more" : "less", study.outputs[first.output].name,
                         study.outputs[second.output].name),
             "soft") +
         chart_group(scatter_chart(
             {fmt::format("{} ({}) and {} ({})", study.outputs[first.output].name, wanted(first.want),
                          study.outputs[second.output].name, wanted(second.want)),
              "One mark a design at its two goals; those of the Pareto set are joined by a line.", values},
             axes[0], axes[1], dots, front, lines));
}

std::string effects_part(const View& view) {
  const auto effects = study::main_effects(view.study, view.table);
  const bool grid = view.study.kind == study::DesignKind::grid;
  std::string out = paragraph(
      grid
          ? "Mean of each output over the designs with one level of what is varied, the others averaged; 95 "
            "% "
            "intervals over replicates. One scale for each output."
          : "Mean of each output over the designs in one quarter of what is varied, the others as they fell; "
            "95 "
            "% intervals over those designs, so that they tell how much the others scatter it. One scale for "
            "each output.",
      "soft");
  for (std::size_t o = 0; o < effects.size(); ++o) {
    std::vector<std::vector<Interval>> charts;
    std::vector<Interval> all;
    for (std::size_t k = 0; k < effects[o].size(); ++k) {
      auto& levels = charts.emplace_back();
      for (const auto& effect : effects[o][k])
        levels.push_back(interval_of(effect.level, static_cast<int>(k), effect.mean, view.shown[o].scale));
      all.insert(all.end(), levels.begin(), levels.end());
    }
    const auto [low, high] = reach_of(all);
    const AxisRange axis = round_range(view.shown[o].label, low, high);
    std::string group;
    for (std::size_t k = 0; k < charts.size(); ++k) {
      const auto& variable = view.study.variables[k].name;
      group += level_chart({variable,
                            fmt::format("Mean {} at each level of {}, with its interval.",
                                        view.study.outputs[o].name, variable),
                            {}},
                           axis, charts[k]);
    }
    out += heading(3, view.study.outputs[o].name) + chart_group(group);
  }
  return out;
}

std::string indices_part(const View& view,
                         const std::vector<std::vector<statistics::SobolEstimate>>& indices) {
  if (indices.empty()) return "";
  Table table{"Sobol' indices with 95 % bootstrap intervals",
              {"output, varied", "alone", "from", "to", "with interactions", "from", "to"},
              {}};
  std::string charts;
  for (std::size_t o = 0; o < indices.size(); ++o) {
    std::vector<Interval> rows;
    for (std::size_t k = 0; k < indices[o].size(); ++k) {
      const auto& index = indices[o][k];
      const auto& name = view.study.variables[k].name;
      rows.push_back({name + ", alone", 0, index.value.first, index.first.low, index.first.high});
      rows.push_back(
          {name + ", with its interactions", 1, index.value.total, index.total.low, index.total.high});
      std::vector<std::string> row{view.study.outputs[o].name + ", " + name};
      for (const double value : {index.value.first, index.first.low, index.first.high, index.value.total,
                                 index.total.low, index.total.high})
        row.push_back(std::isfinite(value) ? fmt::format("{:.3f}", value + 0.0) : "–");
      table.rows.push_back(std::move(row));
    }
    const auto [low, high] = reach_of(rows);
    charts +=
        interval_chart({view.study.outputs[o].name,
                        "Two rows for each thing that is varied: its share of the variance alone, and with "
                        "its interactions.",
                        {}},
                       round_range("share of the variance", std::min(0.0, low), std::max(1.0, high)), rows);
  }
  return paragraph(
             "Shares of an output's variance over the designs. Alone: first-order index; with its "
             "interactions: "
             "total index. Shares of a total above one together are interactions counted for each partner.",
             "soft") +
         chart_group(charts) + table_markup(table);
}

std::string refused_part(const View& view) {
  Table table{"Designs that cannot be built or flown", {"design", "values", "why"}, {}};
  for (std::size_t i = 0; i < view.table.results.size() && table.rows.size() < most_rows; ++i) {
    const auto& why = view.table.results[i].refused;
    if (!why.empty()) table.rows.push_back({std::to_string(i), view.values_of(static_cast<int>(i)), why});
  }
  return table.rows.empty() ? "" : table_markup(table);
}

std::string conditions(const View& view) {
  int least = 0, most = 0;
  bool any = false;
  for (const auto& result : view.table.results) {
    if (!result.refused.empty()) continue;
    least = any ? std::min(least, result.replicates) : result.replicates;
    most = std::max(most, result.replicates);
    any = true;
  }
  const std::string each = least == most ? fmt::format("{}", most) : fmt::format("{} to {}", least, most);
  return fmt::format(
      "Around the scenario {}; {} replicates a design, seed {}; replicates of one number share their random "
      "numbers in all designs.",
      view.study.base.name, each, view.study.base.flight.seed);
}

}  // namespace

std::string study_verdict(const Study& study, const study::Table& table) {
  return verdict_of(View(study, table));
}

std::string render_study(const Study& study, const study::Table& table, const std::string& program_version) {
  const View view(study, table);
  const auto indices = study::sobol_indices(study, table);
  std::string head = paragraph(verdict_of(view), "verdict");
  if (const auto words = indices_in_words(view, indices); !words.empty()) head += paragraph(words, "verdict");
  head +=
      paragraph(conditions(view), "soft") +
      alert("Cautions",
            paragraph("Field, flashing light, hot parts and voltages differ from design to design: read the "
                      "design sheet of the one that is built (`driftglow sheet`) before it is built. Local "
                      "rules decide."));
  return render_page(
      "study report", study.title.empty() ? study.name : study.title, head,
      {{"Ranking", ranked_table(view)},
       {"Pareto set", pareto_part(view)},
       {"Main effects", effects_part(view)},
       {"Sobol' indices", indices_part(view, indices)},
       {"What was asked", asked_table(view)},
       {"Not built", refused_part(view)}},
      paragraph(fmt::format("driftglow {}; study {}, SHA-256 {}; scenario {}, SHA-256 {}", program_version,
                            study.name, study.hash, study.base.name, study.base.hash),
                "soft"));
}

}  // namespace driftglow::report
