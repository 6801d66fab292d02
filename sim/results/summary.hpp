#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "sim/flight/campaign.hpp"
#include "sim/flight/plan.hpp"
#include "sim/flight/result.hpp"
#include "sim/statistics/estimate.hpp"

namespace driftglow::results {

// A plain threshold on B.n has no LED: its currents and light are not numbers.
enum class Receiver { circuit, threshold };

struct DesignOutline {
  std::string name;
  int count;
  Receiver receiver;
  std::vector<std::string> fits;
  std::vector<std::string> colours;  // of the fits, of a pair both; empty with a plain threshold
  std::vector<int> carried;          // which fit each tag carries
};

// What the results need to know of the plan that was flown.
struct Outline {
  std::uint64_t seed;
  double vessel_radius, vessel_height;  // m, the radius at its widest
  flight::Clock clock;
  std::vector<DesignOutline> designs;
  std::vector<std::string> colours;  // of the carried emitters
  int tags;
  bool coupled = false;       // tags with each other
  double vessel_slope = 0.0;  // 1, dR/dz of the wall

  double radius_at(double z) const {
    return vessel_radius + vessel_slope * (z - (vessel_slope > 0.0 ? vessel_height : 0.0));
  }
};

Outline outline(const flight::Plan& plan);

// Estimates are over replicates, one value each, so that correlation in time is inside the interval.
struct FitSummary {
  std::string emitter;
  statistics::Estimate duty;                 // 1
  statistics::Estimate flashes_per_minute;   // 1/min
  statistics::Estimate mean_on_spell;        // s
  statistics::Estimate mean_off_spell;       // s
  statistics::Estimate mean_current;         // A
  statistics::Estimate mean_intensity;       // cd
  statistics::Estimate effective_intensity;  // cd
  statistics::Estimate over_rating;          // 1
  std::vector<statistics::Estimate> tag_duty;
  std::vector<statistics::Estimate> emitter_intensity;  // cd, one or those of a pair
  std::optional<statistics::Estimate> coupling_shift;   // 1, of the duty, with tags that couple
  std::optional<double> parameter_half_width;           // 1, of the duty: ParameterWidths
  flight::SpellCounts on_spells, off_spells;            // of all replicates
  std::vector<std::int64_t> lit_by_place;               // of all replicates, [r bin][z bin]
};

// Duty of fit `first` less that of fit `second`.
struct DutyDifference {
  int first, second;
  statistics::Estimate paired;  // over the differences in each replicate: same flights
  double unpaired_half_width;   // 95 %, as if the two had flown apart (Welch)
};

struct DesignSummary {
  std::string name;
  std::array<statistics::Estimate, motion::surfaces> pinned;  // 1
  statistics::Estimate pinned_anywhere;                       // 1, the sum over the surfaces
  statistics::Estimate touching;                              // 1
  statistics::Estimate mean_speed;                            // m/s
  statistics::Estimate mean_height;                           // m
  std::vector<std::int64_t> visits;                           // of all replicates, [r bin][z bin]
  std::vector<FitSummary> fits;
  std::vector<DutyDifference> differences;  // every pair, in order
};

struct VesselSummary {
  std::vector<statistics::Estimate> lit_at_once;        // 1, share of the time with 0, 1, ... tags lit
  statistics::Estimate mean_lit;                        // 1, tags lit
  double longest_dark;                                  // s, the longest of all replicates
  statistics::Estimate longest_dark_each;               // s, the longest of each replicate
  std::vector<statistics::Estimate> colour_intensity;   // cd, by Outline::colours
  std::optional<statistics::Estimate> uncoupled_share;  // 1, with tags that couple
};

// How far each duty may be off, beside chance, by what tuning left uncertain of the scenario's values.
struct ParameterWidths {
  std::string readings;                         // the file that the values were tuned by
  int values;                                   // so many
  std::vector<std::vector<double>> half_width;  // 1, 95 %, [design][fit]
};

// A lost tag with its replicate.
struct Lost {
  int replicate;
  flight::LostTag tag;
};

// The ledger of energy: estimates by flight::ledger_terms().
struct EnergySummary {
  flight::EnergySource source;
  std::vector<statistics::Estimate> terms;  // W
  double worst_violation;                   // 1 (W without input), the largest of all replicates
};
const char* words(flight::EnergySource source);

struct Summary {
  Outline outline;
  std::vector<int> numbers;  // of the replicates
  bool interrupted;
  std::vector<DesignSummary> designs;
  VesselSummary vessel;
  std::vector<Lost> lost;                 // in order
  std::optional<EnergySummary> energy{};  // where every replicate has its ledger
  std::optional<ParameterWidths> parameters{};
};

flight::LostCount lost_count(const Summary& summary);

void add(const ParameterWidths& widths, Summary& summary);

// Of a duty by chance and parameters together [1]: independent, so that squares add up.
double total_half_width(const FitSummary& fit);

Summary summarise(const flight::Plan& plan, const flight::CampaignResult& campaign);
// Throws LogicError without replicates, or when their shape is not the outline's.
Summary summarise(const Outline& outline, const flight::CampaignResult& campaign);

// A quantity of a fit: where its value stands, how it is named in files, and for which receivers it is a
// number.
struct FitQuantity {
  double flight::FitResult::*value;
  statistics::Estimate FitSummary::*estimate;
  const char* name;    // in HDF5
  const char* column;  // in text files, with the unit
  const char* unit;
  const char* meaning;
  Receiver needs;  // threshold: any receiver will do
};
std::span<const FitQuantity> fit_quantities();

struct DesignQuantity {
  double flight::DesignResult::*value;
  statistics::Estimate DesignSummary::*estimate;
  const char* name;
  const char* column;
  const char* unit;
  const char* meaning;
};
std::span<const DesignQuantity> design_quantities();

const char* surface_name(int surface);

}  // namespace driftglow::results
