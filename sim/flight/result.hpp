#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "models/motion/contact.hpp"

namespace driftglow::flight {

// Spell lengths are counted in bins of an eighth of a decade from 0.1 ms; bin k holds lengths in
// [0.1 ms * 10^(k/8), 0.1 ms * 10^((k+1)/8)); the last one also what is longer.
inline constexpr int spell_bins = 64;
inline constexpr double spell_first = 1e-4;  // s
int spell_bin(double length);
double spell_bin_start(int bin);  // s

using SpellCounts = std::array<std::int64_t, spell_bins>;

// One electrical fit of one design in one replicate, after warm-up.
struct FitResult {
  std::vector<double> tag_duty;  // 1, a tag of the design
  double duty;                   // 1, mean over the tags
  double flashes_per_minute;     // 1/min, a tag: times that it came on
  double mean_on_spell;          // s, whole spells only; NaN without any
  double mean_off_spell;         // s, likewise
  double mean_current;           // A, of the LED, of a pair the sum, a tag
  double mean_intensity;         // cd, a tag
  double effective_intensity;    // cd, mean over whole flashes (Blondel-Rey); NaN without any
  double over_rating;            // 1, share of time above a rating
  SpellCounts on_spells{}, off_spells{};
  std::vector<std::int64_t> lit_by_place;  // samples lit, [r bin][z bin]
  std::vector<double> emitter_intensity;   // cd, a tag, by emitter: one or those of a pair
  double coupling_shift = 0.0;             // 1, of coupled tags: the duty less that without the coupling
};

struct DesignResult {
  std::array<double, motion::surfaces> pinned;  // 1, share of time, by surface
  double touching;                              // 1, share of time in contact with any surface
  double mean_speed;                            // m/s
  double mean_height;                           // m
  std::vector<std::int64_t> visits;             // samples, [r bin][z bin]
  std::vector<FitResult> fits;
};

// The vessel with every tag carrying its emitter of the mix.
struct VesselResult {
  std::vector<std::int64_t> lit_at_once;  // steps with 0, 1, ... tags lit
  double longest_dark;                    // s, with no tag lit
  std::vector<double> colour_intensity;   // cd, mean total, by Plan::colours
  double uncoupled_share = 0.0;           // 1, of the steps in which coupled tags were taken uncoupled
};

// Kept for the replay, sampled every trace interval after warm-up; [sample][tag] and [sample][tag][...].
struct Trace {
  std::vector<double> time;       // s, from the end of warm-up
  std::vector<float> place;       // m, x y z
  std::vector<float> velocity;    // m/s
  std::vector<float> axis;        // 1
  std::vector<float> linkage;     // Wb (T for a plain threshold), amplitude, of the drive's field alone
  std::vector<std::uint8_t> lit;  // bit f: lit under fit f
  // A, LED's mean current since the sample before; [sample][slot]: DesignPlan::slot_count() a tag, tags in
  // their order.
  std::vector<float> current;
};

// Why a tag's path cannot be believed any more. Stored by number.
enum class Loss { not_finite, outside, too_fast };
inline constexpr int losses = 3;
const char* words(Loss loss);  // what follows "tag 3 ..."

// A tag that was lost on the way. It counts in all statistics up to `steps` and in none beyond; of vessels as
// a whole, it is dark from then on.
struct LostTag {
  int tag;             // in the vessel
  std::int64_t steps;  // after warm-up that it was flown: 0 when lost before
  Loss loss;
  friend bool operator==(const LostTag&, const LostTag&) = default;
};

// Where the power of a flight comes from: the field as given, the terminals of coils with a given current,
// the supply of a driver. Stored by number.
enum class EnergySource { field, terminals, supply };
inline constexpr int energy_sources = 3;

// Mean powers of a replicate [W]: the drive's at its coil current, and those of the tags with the emitters
// that they carry, as their nominal circuits draw them where they are (sampled every pinned_interval). Each
// is computed by itself: the input from the driver's current and the fundamental of the tags' EMF and
// current, the rest from resistances and wave forms.
struct Ledger {
  EnergySource source;
  double input;
  double copper, metal, capacitor, switches;
  double tag_coils, tag_capacitors, tag_leds;

  // What is missing or too much, over the input [1]; without input in W.
  double violation() const;
};
// The input, then what must add up to it.
struct LedgerTerm {
  double Ledger::*value;
  const char* name;
  const char* meaning;
};
std::span<const LedgerTerm> ledger_terms();

struct ReplicateResult {
  std::vector<DesignResult> designs;
  VesselResult vessel;
  Trace trace;                     // empty when not recorded
  std::vector<LostTag> lost;       // in the order of their tags
  std::optional<Ledger> ledger{};  // where anything draws power, and the file is not of an older version
};

}  // namespace driftglow::flight
