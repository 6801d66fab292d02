#include "sim/results/summary.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>

#include "models/error.hpp"

namespace driftglow::results {
namespace {

using flight::DesignResult;
using flight::FitResult;
using flight::ReplicateResult;
using statistics::Estimate;

using Replicates = std::vector<ReplicateResult>;

Estimate over_replicates(const Replicates& replicates,
                         const std::function<double(const ReplicateResult&)>& value) {
  std::vector<double> values;
  values.reserve(replicates.size());
  for (const auto& replicate : replicates) values.push_back(value(replicate));
  return statistics::estimate(values);
}

template <class Counts>
void add(Counts& sum, const Counts& counts) {
  std::transform(sum.begin(), sum.end(), counts.begin(), sum.begin(), std::plus<>());
}

void check_shape(const Outline& outline, const flight::CampaignResult& campaign) {
  if (campaign.replicates.empty()) throw LogicError("no replicate to summarise");
  const auto expect = [](bool right) {
    if (!right) throw LogicError("a replicate's result does not have the plan's shape");
  };
  expect(campaign.numbers.size() == campaign.replicates.size());
  constexpr std::size_t places = flight::place_r_bins * flight::place_z_bins;
  for (const auto& replicate : campaign.replicates) {
    expect(replicate.designs.size() == outline.designs.size());
    expect(replicate.vessel.lit_at_once.size() == static_cast<std::size_t>(outline.tags) + 1);
    expect(replicate.vessel.colour_intensity.size() == outline.colours.size());
    for (const auto& lost : replicate.lost) expect(lost.tag >= 0 && lost.tag < outline.tags);
    for (std::size_t d = 0; d < outline.designs.size(); ++d) {
      expect(replicate.designs[d].visits.size() == places);
      expect(replicate.designs[d].fits.size() == outline.designs[d].fits.size());
      for (const auto& fit : replicate.designs[d].fits) {
        expect(fit.tag_duty.size() == static_cast<std::size_t>(outline.designs[d].count));
        expect(fit.lit_by_place.size() == places);
      }
    }
  }
}

FitSummary summarise_fit(const Outline& outline, std::size_t design, std::size_t fit,
                         const Replicates& replicates) {
  const auto result = [&](const ReplicateResult& replicate) -> const FitResult& {
    return replicate.designs[design].fits[fit];
  };
  FitSummary summary{};
  const DesignOutline& own = outline.designs[design];
  summary.emitter = own.fits[fit];
  for (const auto& quantity : fit_quantities()) {
    const bool known = quantity.needs == Receiver::threshold || own.receiver == Receiver::circuit;
    summary.*quantity.estimate =
        known ? over_replicates(replicates, [&](const auto& r) { return result(r).*quantity.value; })
              : statistics::estimate({});
  }
  for (int tag = 0; tag < own.count; ++tag) {
    summary.tag_duty.push_back(
        over_replicates(replicates, [&](const auto& r) { return result(r).tag_duty[tag]; }));
  }
  const std::size_t emitters = result(replicates.front()).emitter_intensity.size();
  for (std::size_t i = 0; i < emitters; ++i) {
    summary.emitter_intensity.push_back(
        over_replicates(replicates, [&](const auto& r) { return result(r).emitter_intensity[i]; }));
  }
  if (outline.coupled)
    summary.coupling_shift =
        over_replicates(replicates, [&](const auto& r) { return result(r).coupling_shift; });
  summary.lit_by_place.assign(flight::place_r_bins * flight::place_z_bins, 0);
  for (const auto& replicate : replicates) {
    add(summary.on_spells, result(replicate).on_spells);
    add(summary.off_spells, result(replicate).off_spells);
    add(summary.lit_by_place, result(replicate).lit_by_place);
  }
  return summary;
}

DesignSummary summarise_design(const Outline& all, std::size_t design, const Replicates& replicates) {
  const auto result = [&](const ReplicateResult& replicate) -> const DesignResult& {
    return replicate.designs[design];
  };
  const DesignOutline& outline = all.designs[design];
  DesignSummary summary{};
  summary.name = outline.name;
  for (int s = 0; s < motion::surfaces; ++s) {
    summary.pinned[s] = over_replicates(replicates, [&](const auto& r) { return result(r).pinned[s]; });
  }
  summary.pinned_anywhere = over_replicates(replicates, [&](const auto& r) {
    double sum = 0.0;
    for (const double share : result(r).pinned) sum += share;
    return sum;
  });
  for (const auto& quantity : design_quantities()) {
    summary.*quantity.estimate =
        over_replicates(replicates, [&](const auto& r) { return result(r).*quantity.value; });
  }
  summary.visits.assign(flight::place_r_bins * flight::place_z_bins, 0);
  for (const auto& replicate : replicates) add(summary.visits, result(replicate).visits);
  const int fits = static_cast<int>(outline.fits.size());
  for (int fit = 0; fit < fits; ++fit) summary.fits.push_back(summarise_fit(all, design, fit, replicates));
  for (int first = 0; first < fits; ++first) {
    for (int second = first + 1; second < fits; ++second) {
      const auto difference = [&](const auto& r) {
        return result(r).fits[first].duty - result(r).fits[second].duty;
      };
      summary.differences.push_back(
          {first, second, over_replicates(replicates, difference),
           statistics::unpaired_half_width(summary.fits[first].duty, summary.fits[second].duty)});
    }
  }
  return summary;
}

VesselSummary summarise_vessel(const Outline& outline, const Replicates& replicates) {
  const auto steps = [](const ReplicateResult& r) {
    std::int64_t sum = 0;
    for (const auto count : r.vessel.lit_at_once) sum += count;
    return static_cast<double>(sum);
  };
  VesselSummary summary{};
  for (int lit = 0; lit <= outline.tags; ++lit) {
    summary.lit_at_once.push_back(over_replicates(replicates, [&](const auto& r) {
      return static_cast<double>(r.vessel.lit_at_once[lit]) / steps(r);
    }));
  }
  summary.mean_lit = over_replicates(replicates, [&](const auto& r) {
    double sum = 0.0;
    for (int lit = 0; lit <= outline.tags; ++lit) sum += lit * static_cast<double>(r.vessel.lit_at_once[lit]);
    return sum / steps(r);
  });
  summary.longest_dark = 0.0;
  for (const auto& r : replicates)
    summary.longest_dark = std::max(summary.longest_dark, r.vessel.longest_dark);
  summary.longest_dark_each =
      over_replicates(replicates, [](const auto& r) { return r.vessel.longest_dark; });
  for (std::size_t colour = 0; colour < outline.colours.size(); ++colour) {
    summary.colour_intensity.push_back(
        over_replicates(replicates, [&](const auto& r) { return r.vessel.colour_intensity[colour]; }));
  }
  if (outline.coupled)
    summary.uncoupled_share =
        over_replicates(replicates, [](const auto& r) { return r.vessel.uncoupled_share; });
  return summary;
}

std::optional<EnergySummary> summarise_energy(const Replicates& replicates) {
  if (!std::all_of(replicates.begin(), replicates.end(), [](const auto& r) { return r.ledger.has_value(); }))
    return std::nullopt;
  EnergySummary energy{replicates.front().ledger->source, {}, 0.0};
  for (const auto& term : flight::ledger_terms())
    energy.terms.push_back(over_replicates(replicates, [&](const auto& r) { return *r.ledger.*term.value; }));
  for (const auto& r : replicates)
    energy.worst_violation = std::max(energy.worst_violation, r.ledger->violation());
  return energy;
}

}  // namespace

const char* words(flight::EnergySource source) {
  switch (source) {
    case flight::EnergySource::field:
      return "the field";
    case flight::EnergySource::terminals:
      return "the coils' terminals";
    case flight::EnergySource::supply:
      return "the supply";
  }
  throw LogicError("no such source of energy");
}

std::span<const FitQuantity> fit_quantities() {
  using enum Receiver;
  static constexpr FitQuantity quantities[] = {
      {&FitResult::duty, &FitSummary::duty, "duty", "duty", "1", "share of the time lit, mean over the tags",
       threshold},
      {&FitResult::flashes_per_minute, &FitSummary::flashes_per_minute, "flashes_per_minute",
       "flashes_per_minute", "1/min", "times that a tag comes on", threshold},
      {&FitResult::mean_on_spell, &FitSummary::mean_on_spell, "mean_on_spell", "mean_on_s", "s",
       "mean length of whole lit spells", threshold},
      {&FitResult::mean_off_spell, &FitSummary::mean_off_spell, "mean_off_spell", "mean_off_s", "s",
       "mean length of whole dark spells", threshold},
      {&FitResult::mean_current, &FitSummary::mean_current, "mean_current", "mean_current_A", "A",
       "mean current of a tag's LED, of a pair the sum of both, dark times included", circuit},
      {&FitResult::mean_intensity, &FitSummary::mean_intensity, "mean_light", "mean_light_cd", "cd",
       "mean luminous intensity of a tag, on axis, dark times included", circuit},
      {&FitResult::effective_intensity, &FitSummary::effective_intensity, "effective_intensity",
       "effective_intensity_cd", "cd", "effective intensity of whole flashes (Blondel-Rey), mean", circuit},
      {&FitResult::over_rating, &FitSummary::over_rating, "over_ratings_share", "over_ratings_share", "1",
       "share of the time above a rating of the LED", circuit},
  };
  return quantities;
}

std::span<const DesignQuantity> design_quantities() {
  static constexpr DesignQuantity quantities[] = {
      {&DesignResult::touching, &DesignSummary::touching, "touching", "touching_share", "1",
       "share of the time in contact with wall, floor or lid"},
      {&DesignResult::mean_speed, &DesignSummary::mean_speed, "mean_speed", "mean_speed_m_per_s", "m/s",
       "mean speed of a tag"},
      {&DesignResult::mean_height, &DesignSummary::mean_height, "mean_height", "mean_height_m", "m",
       "mean height of a tag's centre above the floor mesh"},
  };
  return quantities;
}

const char* surface_name(int surface) {
  switch (surface) {
    case motion::wall:
      return "wall";
    case motion::floor:
      return "floor";
    case motion::lid:
      return "lid";
    default:
      throw LogicError("no such surface");
  }
}

Outline outline(const flight::Plan& plan) {
  Outline outline{plan.seed, plan.vessel.widest(),      plan.vessel.height, plan.clock, {}, plan.colours,
                  plan.tags, plan.coupling.has_value(), plan.vessel.slope};
  for (const auto& design : plan.designs) {
    DesignOutline drawn{design.name, design.count, design.threshold ? Receiver::threshold : Receiver::circuit,
                        design.fits, {},           design.carried};
    for (const auto& led : design.leds) {
      const bool same = !led.antiparallel || led.antiparallel->colour == led.colour;
      drawn.colours.push_back(same ? led.colour : led.colour + " and " + led.antiparallel->colour);
    }
    outline.designs.push_back(std::move(drawn));
  }
  return outline;
}

void add(const ParameterWidths& widths, Summary& summary) {
  for (std::size_t d = 0; d < summary.designs.size(); ++d) {
    auto& fits = summary.designs[d].fits;
    for (std::size_t f = 0; f < fits.size(); ++f)
      fits[f].parameter_half_width = widths.half_width.at(d).at(f);
  }
  summary.parameters = widths;
}

double total_half_width(const FitSummary& fit) {
  return std::hypot(fit.duty.half_width, fit.parameter_half_width.value_or(0.0));
}

Summary summarise(const flight::Plan& plan, const flight::CampaignResult& campaign) {
  return summarise(outline(plan), campaign);
}

Summary summarise(const Outline& outline, const flight::CampaignResult& campaign) {
  check_shape(outline, campaign);
  Summary summary{
      outline, campaign.numbers, campaign.interrupted, {}, summarise_vessel(outline, campaign.replicates),
      {}};
  for (std::size_t design = 0; design < outline.designs.size(); ++design) {
    summary.designs.push_back(summarise_design(outline, design, campaign.replicates));
  }
  summary.energy = summarise_energy(campaign.replicates);
  for (std::size_t i = 0; i < campaign.replicates.size(); ++i) {
    for (const auto& tag : campaign.replicates[i].lost) summary.lost.push_back({campaign.numbers[i], tag});
  }
  return summary;
}

flight::LostCount lost_count(const Summary& summary) {
  flight::LostCount count{static_cast<std::int64_t>(summary.lost.size()),
                          static_cast<std::int64_t>(summary.numbers.size()) * summary.outline.tags};
  if (!summary.lost.empty()) {
    count.replicate = summary.lost.front().replicate;
    count.first = summary.lost.front().tag;
  }
  return count;
}

}  // namespace driftglow::results
