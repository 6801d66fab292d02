#include "sim/flight/tally.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include "sim/flight/random.hpp"
#include "tests/flight/plans.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow;
using namespace driftglow::flight;

namespace {

constexpr double dt = 0.01;  // s

// Whole numbers of 2^-20 A: single precision adds some hundreds of them without rounding, so that every order
// of summing gives the same.
constexpr double current_unit = 0x1p-20;  // A

// What one fit of one tag did, step by step.
struct Record {
  std::vector<bool> lit;
  std::vector<int> current;  // current_unit; flows when dark too, below what counts as lit
  int steps() const { return static_cast<int>(lit.size()); }
};

Record record_of(const std::string& lit) {
  Record record;
  for (const char c : lit) {
    record.lit.push_back(c == '1');
    record.current.push_back(c == '1' ? 2000 : 0);
  }
  return record;
}

// Spells of `mean_length` steps on average (geometric).
Record random_record(int steps, double mean_length, pcg32& stream) {
  Record record;
  bool lit = uniform(stream) < 0.5;
  for (int i = 0; i < steps; ++i) {
    if (uniform(stream) < 1.0 / mean_length) lit = !lit;
    record.lit.push_back(lit);
    record.current.push_back(static_cast<int>(uniform(stream) * (lit ? 2000.0 : 20.0)));
  }
  return record;
}

// The plain count: every step is looked at, every spell cut out and measured.
struct Count {
  std::int64_t on_steps = 0, current = 0;
  FitCounts fits;

  void add(const Record& record) {
    const int steps = record.steps();
    for (int i = 0; i < steps; ++i) {
      on_steps += record.lit[i];
      current += record.current[i];
      fits.flashes += i > 0 && record.lit[i] && !record.lit[i - 1];
    }
    for (int begin = 0, end; begin < steps; begin = end) {
      for (end = begin; end < steps && record.lit[end] == record.lit[begin];) ++end;
      if (begin == 0 || end == steps) continue;
      const double length = (end - begin) * dt;
      if (record.lit[begin]) {
        ++fits.whole_on;
        fits.whole_on_steps += end - begin;
        ++fits.on_spells[spell_bin(length)];
        // Blondel & Rey 1911 [blondel1911]: integral of I dt / (0.2 s + duration).
        double sum = 0.0;
        for (int i = begin; i < end; ++i) sum += record.current[i] * current_unit;
        fits.effective_current_sum += sum * dt / (0.2 + length);
      } else {
        ++fits.whole_off;
        fits.whole_off_steps += end - begin;
        ++fits.off_spells[spell_bin(length)];
      }
    }
  }
};

// Within the rounding of some thousand operations in double, zero included.
void check_close(double got, double expected) {
  CHECK(std::fabs(got - expected) <= 1e-12 * std::fabs(expected));
}

void check_same(const FitCounts& got, const FitCounts& expected) {
  CHECK(got.flashes == expected.flashes);
  CHECK(got.whole_on == expected.whole_on);
  CHECK(got.whole_off == expected.whole_off);
  CHECK(got.whole_on_steps == expected.whole_on_steps);
  CHECK(got.whole_off_steps == expected.whole_off_steps);
  CHECK((got.on_spells == expected.on_spells));
  CHECK((got.off_spells == expected.off_spells));
  check_close(got.effective_current_sum, expected.effective_current_sum);
}

// Tells the tally of the changes in a record, as the flight does.
std::int64_t told(const Record& record, FitCounts& counts) {
  SpellTally tally;
  double sum = 0.0;
  for (int i = 0; i < record.steps(); ++i) {
    if (record.lit[i] != tally.lit()) tally.change(i, sum, dt, counts);
    sum += record.current[i] * current_unit;
  }
  tally.end(record.steps());
  return tally.on_steps();
}

// The plain count of a vessel: how many of the records are lit in each step, and the longest run of none.
struct VesselCount {
  std::vector<std::int64_t> lit_at_once;
  std::int64_t longest_dark = 0;

  explicit VesselCount(const std::vector<Record>& tags) : lit_at_once(tags.size() + 1, 0) {
    std::int64_t dark = 0;
    for (int i = 0; i < tags.front().steps(); ++i) {
      const auto lit = std::count_if(tags.begin(), tags.end(), [&](const Record& tag) { return tag.lit[i]; });
      ++lit_at_once[lit];
      dark = lit == 0 ? dark + 1 : 0;
      longest_dark = std::max(longest_dark, dark);
    }
  }
};

void check_vessel(const std::vector<Record>& tags) {
  const VesselCount expected(tags);
  VesselTally tally(static_cast<int>(tags.size()));
  const int steps = tags.front().steps();
  for (int i = 0; i < steps; ++i) {
    for (const Record& tag : tags) {
      const bool before = i > 0 && tag.lit[i - 1];
      if (tag.lit[i] != before) tally.change(i, tag.lit[i] ? 1 : -1);
    }
  }
  tally.end(steps);
  CHECK(tally.lit_at_once() == expected.lit_at_once);
  CHECK(tally.longest_dark() == expected.longest_dark);
}

// Two designs of two fits with a circuit and one with a plain threshold; 3 + 2 + 2 tags, 12 slots.
Plan three_designs() {
  Plan plan = plan_of(scenario::parse_scenario(R"(
vessel: {inner_diameter: 190 mm, height: 320 mm}
drive: {field: {flux_density: 40 uT, frequency: 118 kHz}}
tags:
  - name: first
    count: 3
    receiver: &coil {inner_diameter: 26 mm, turns: 32, layers: 2, wire: 0.112 mm, capacitor: 33 nF}
    fits: [yellow-green, warm-white]
    mix: {warm-white: 1, yellow-green: 2}
    hold: &place {place: [0 mm, 0 mm, 160 mm]}
  - {name: plain, count: 2, receiver: {threshold_flux_density: 18 uT}, hold: *place}
  - name: second
    count: 2
    receiver: *coil
    fits: [warm-white, yellow-green]
    hold: *place
flight: {duration: 1 s, step: 1 ms}
)",
                                               "three designs"));
  plan.clock.step = dt;
  return plan;
}

// The whole glow tally of a random flight against plain counts, told as the step tells it: a word of lanes a
// slot, sums that are saved now and then.
template <class Real>
void check_glow(const Plan& plan, int lanes, int save_every, std::uint64_t seed) {
  constexpr int steps = 2000;
  struct Slot {
    int design, tag, fit;
  };
  std::vector<Slot> slots;
  for (int d = 0; d < static_cast<int>(plan.designs.size()); ++d) {
    for (int i = 0; i < plan.designs[d].count; ++i) {
      for (int f = 0; f < plan.designs[d].fit_count(); ++f) slots.push_back({d, i, f});
    }
  }
  std::vector<std::vector<Record>> records(slots.size());          // [slot][lane]
  std::vector<std::vector<std::vector<bool>>> over(slots.size());  // [slot][lane][step]
  for (std::size_t slot = 0; slot < slots.size(); ++slot) {
    for (int lane = 0; lane < lanes; ++lane) {
      pcg32 stream = random_stream(seed, lane, slot, Purpose::air);
      // Some change in every other step, some hardly ever, some never.
      const double length = std::pow(10.0, 0.3 + 4.0 * uniform(stream));
      Record record = random_record(steps, length, stream);
      // A time in which all are dark.
      std::fill_n(record.lit.begin() + 600 + 10 * lane, 100, false);
      records[slot].push_back(record);
      std::vector<bool> exceeded;
      for (int i = 0; i < steps; ++i) exceeded.push_back(uniform(stream) < 0.01);
      over[slot].push_back(exceeded);
    }
  }

  GlowTally tally(plan, lanes);
  std::vector<Real> unsaved(slots.size() * lanes, 0);
  for (int i = 0; i < steps; ++i) {
    for (std::size_t slot = 0; slot < slots.size(); ++slot) {
      std::uint32_t changed = 0, exceeded = 0;
      for (int lane = 0; lane < lanes; ++lane) {
        const Record& record = records[slot][lane];
        const bool before = i > 0 && record.lit[i - 1];
        changed |= static_cast<std::uint32_t>(record.lit[i] != before) << lane;
        exceeded |= static_cast<std::uint32_t>(over[slot][lane][i]) << lane;
      }
      if (changed != 0) tally.change(static_cast<int>(slot), i, changed, &unsaved[slot * lanes]);
      if (exceeded != 0) tally.over_rating(static_cast<int>(slot), exceeded);
      for (int lane = 0; lane < lanes; ++lane)
        unsaved[slot * lanes + lane] += static_cast<Real>(records[slot][lane].current[i] * current_unit);
    }
    if (i % save_every != save_every - 1 && i != steps - 1) continue;
    tally.save(unsaved.data());
    CHECK(std::all_of(unsaved.begin(), unsaved.end(), [](Real x) { return x == 0; }));
  }
  tally.end(steps);

  for (int lane = 0; lane < lanes; ++lane) {
    std::vector<Record> carried;
    std::vector<double> colour_intensity(plan.colours.size(), 0.0);
    for (int d = 0; d < static_cast<int>(plan.designs.size()); ++d) {
      const DesignPlan& design = plan.designs[d];
      for (int f = 0; f < design.fit_count(); ++f) {
        CAPTURE(d);
        CAPTURE(f);
        const double per_current = design.leds.empty() ? 0.0 : design.leds[f].intensity_per_current;
        Count count;
        std::vector<double> tag_duty;
        std::int64_t over_steps = 0;
        for (std::size_t slot = 0; slot < slots.size(); ++slot) {
          if (slots[slot].design != d || slots[slot].fit != f) continue;
          const Record& record = records[slot][lane];
          Count own;
          own.add(record);
          count.add(record);
          tag_duty.push_back(static_cast<double>(own.on_steps) / steps);
          over_steps += std::count(over[slot][lane].begin(), over[slot][lane].end(), true);
          if (design.carried[slots[slot].tag] != f) continue;
          carried.push_back(record);
          if (design.leds.empty()) continue;
          for (std::size_t c = 0; c < plan.colours.size(); ++c) {
            if (plan.colours[c] == design.leds[f].colour)
              colour_intensity[c] += static_cast<double>(own.current) * current_unit / steps * per_current;
          }
        }
        const FitResult got = tally.fit_result(lane, d, f);
        const double tag_steps = 1.0 * steps * design.count;
        CHECK(got.tag_duty == tag_duty);
        check_close(got.duty, static_cast<double>(count.on_steps) / tag_steps);
        check_close(got.flashes_per_minute,
                    static_cast<double>(count.fits.flashes) / (tag_steps * dt) * 60.0);
        check_close(got.over_rating, static_cast<double>(over_steps) / tag_steps);
        const double mean_current = static_cast<double>(count.current) * current_unit / tag_steps;
        check_close(got.mean_current, mean_current);
        check_close(got.mean_intensity, mean_current * per_current);
        const auto check_mean = [&](double mean, double sum, std::int64_t number) {
          if (number == 0) {
            CHECK(std::isnan(mean));
          } else {
            check_close(mean, sum / static_cast<double>(number));
          }
        };
        check_mean(got.mean_on_spell, static_cast<double>(count.fits.whole_on_steps) * dt,
                   count.fits.whole_on);
        check_mean(got.mean_off_spell, static_cast<double>(count.fits.whole_off_steps) * dt,
                   count.fits.whole_off);
        check_mean(got.effective_intensity, count.fits.effective_current_sum * per_current,
                   count.fits.whole_on);
        CHECK((got.on_spells == count.fits.on_spells));
        CHECK((got.off_spells == count.fits.off_spells));
      }
    }
    const VesselCount vessel(carried);
    const VesselResult got = tally.vessel_result(lane);
    CHECK(got.lit_at_once == vessel.lit_at_once);
    CHECK(vessel.longest_dark >= 100);
    check_close(got.longest_dark, static_cast<double>(vessel.longest_dark) * dt);
    REQUIRE(got.colour_intensity.size() == colour_intensity.size());
    for (std::size_t c = 0; c < colour_intensity.size(); ++c)
      check_close(got.colour_intensity[c], colour_intensity[c]);
  }
}

}  // namespace

// By hand: steps of 10 ms; the first and the last spell are cut and not whole.
TEST_CASE("spells, flashes and light of a short record by hand") {
  const Outside outside("worked by hand");
  FitCounts counts;
  CHECK(told(record_of("110001111001100"), counts) == 8);
  CHECK(counts.flashes == 2);
  CHECK(counts.whole_on == 2);
  CHECK(counts.whole_on_steps == 6);
  CHECK(counts.whole_off == 2);
  CHECK(counts.whole_off_steps == 5);
  // Blondel-Rey: I dt / (0.2 s + dt) of 40 ms and of 20 ms.
  outside.matches("effective current of a short record [A s]", counts.effective_current_sum,
                  2000 * current_unit * (0.04 / 0.24 + 0.02 / 0.22), 1e-12);
  CHECK(counts.on_spells[spell_bin(0.04)] == 1);
  CHECK(counts.on_spells[spell_bin(0.02)] == 1);
  CHECK(counts.off_spells[spell_bin(0.03)] == 1);
}

TEST_CASE("spells told of changes alone are those of a plain count") {
  pcg32 stream = random_stream(1, 0, 0, Purpose::air);
  std::vector<Record> records;
  for (const char* text : {"0", "1", "0000", "1111", "0001", "1000", "0111", "1110", "0101010101", "1010101",
                           "0110", "1001", "01", "10"}) {
    records.push_back(record_of(text));
  }
  for (const double length : {1.0, 1.5, 3.0, 20.0, 200.0, 1e5}) {
    for (int i = 0; i < 20; ++i) records.push_back(random_record(3000, length, stream));
  }
  FitCounts all;
  Count expected_of_all;
  for (const Record& record : records) {
    FitCounts counts;
    Count expected;
    expected.add(record);
    CHECK(told(record, counts) == expected.on_steps);
    check_same(counts, expected.fits);
    told(record, all);
    expected_of_all.add(record);
  }
  // The fits of a design's tags add up in one count.
  check_same(all, expected_of_all.fits);
}

TEST_CASE("a tag that never changes has no flash and no whole spell") {
  for (const bool lit : {false, true}) {
    FitCounts counts;
    CHECK(told(record_of(std::string(100, lit ? '1' : '0')), counts) == (lit ? 100 : 0));
    CHECK(counts.flashes + counts.whole_on + counts.whole_off == 0);
    CHECK(counts.effective_current_sum == 0.0);
  }
}

TEST_CASE("a spell's bin holds it, on the edge too") {
  for (int k = 0; k < spell_bins - 1; ++k) {
    CHECK(spell_bin(spell_bin_start(k)) == k);
    CHECK(spell_bin(std::sqrt(spell_bin_start(k) * spell_bin_start(k + 1))) == k);
  }
  CHECK(spell_bin(1e9) == spell_bins - 1);
  CHECK(spell_bin(1e-9) == 0);
}

TEST_CASE("how many are lit at once and the longest dark are those of a plain count") {
  const auto tags = [](const std::vector<std::string>& texts) {
    std::vector<Record> records;
    for (const auto& text : texts) records.push_back(record_of(text));
    return records;
  };
  check_vessel(tags({"0000000"}));             // never
  check_vessel(tags({"1111111"}));             // always
  check_vessel(tags({"1000000", "0000001"}));  // lit at the first and in the last step
  check_vessel(tags({"0011000", "0000110"}));  // one comes as another goes: no dark step between
  check_vessel(tags({"0000110", "0011000"}));  // told the other way round
  check_vessel(tags({"0110011", "0110011"}));  // two at once
  check_vessel(tags({"0000000", "0001000"}));  // dark for three, twice
  pcg32 stream = random_stream(2, 0, 0, Purpose::air);
  for (const int count : {1, 2, 5, 12}) {
    for (const double length : {1.5, 10.0, 300.0}) {
      std::vector<Record> random;
      for (int i = 0; i < count; ++i) random.push_back(random_record(2000, length, stream));
      check_vessel(random);
      // Rarely lit, so that darkness has lengths to choose from.
      for (auto& tag : random) {
        for (int i = 0; i < tag.steps(); ++i) tag.lit[i] = tag.lit[i] && i / 50 % 7 == 0;
      }
      check_vessel(random);
    }
  }
}

TEST_CASE("the glow of vessels side by side is that of plain counts") {
  const Plan plan = three_designs();
  REQUIRE(plan.designs.size() == 3);
  REQUIRE(plan.colours.size() == 2);
  check_glow<double>(plan, 1, 64, 1);
  check_glow<float>(plan, 4, 7, 2);
  check_glow<float>(plan, 8, 64, 3);
  check_glow<float>(plan, 16, 64, 4);
  check_glow<double>(plan, 16, 1, 5);
}

// By hand: a tag rests on the floor, is carried off, and comes back. The half-second behind a sample must be
// whole and within one radius of it; a sample without a whole window counts neither way.
TEST_CASE("pinned needs contact and half a second in one place") {
  const Outside outside("counted by hand");
  const Plan plan = plan_of(demo());
  const DesignPlan& design = plan.designs.front();
  PlaceTally tally(plan, design);
  const auto sample = [&](double x, double z, int count) {
    for (int i = 0; i < count; ++i) {
      const numeric::Vec3<double> p{x, 0.0, z};
      tally.rest(0, p, motion::gaps(design.body, plan.vessel, p));
      tally.remember(0, p);
    }
  };
  sample(0.0, 0.015, 10);   // on the floor, window not yet whole: not counted
  sample(0.0, 0.015, 10);   // pinned 10 times
  sample(0.0, 0.200, 10);   // in the air
  sample(0.02, 0.015, 10);  // back, but its window still reaches into the air
  sample(0.02, 0.015, 5);   // pinned 5 times
  sample(0.08, 0.160, 20);  // pinned at the wall from the 11th: 10 times
  DesignResult result{};
  result.fits.resize(design.fits.size());
  tally.write(result);
  outside.matches("pinned share on the floor", result.pinned[motion::floor], 15.0 / 55.0, 1.2e-5);
  outside.matches("pinned share on the wall", result.pinned[motion::wall], 10.0 / 55.0, 1.2e-5);
  outside.matches("share of time in contact", result.touching, 55.0 / 65.0, 1.2e-5);
}

// Places drawn in the middle of a ring and a layer: the bin is known without arithmetic.
TEST_CASE("places, speeds and glow by place are those of a plain count") {
  const Plan plan = plan_of(demo());
  const DesignPlan& design = plan.designs.front();
  PlaceTally tally(plan, design);
  pcg32 stream = random_stream(3, 0, 0, Purpose::air);
  std::vector<std::int64_t> visits(place_r_bins * place_z_bins, 0);
  std::vector<std::vector<std::int64_t>> lit(design.fits.size(), visits);
  double speed_sum = 0.0, height_sum = 0.0;
  constexpr int samples = 20000;
  for (int n = 0; n < samples; ++n) {
    const int ring = static_cast<int>(place_r_bins * uniform(stream));
    const int layer = static_cast<int>(place_z_bins * uniform(stream));
    const double r = (ring + 0.5) * plan.vessel.radius / place_r_bins, angle = 6.28 * uniform(stream);
    const double z = (layer + 0.5) * plan.vessel.height / place_z_bins, speed = uniform(stream);
    const auto glow = static_cast<std::uint32_t>(4.0 * uniform(stream));
    tally.place({r * std::cos(angle), r * std::sin(angle), z}, speed, glow);
    const int bin = ring * place_z_bins + layer;
    ++visits[bin];
    for (std::size_t f = 0; f < lit.size(); ++f) lit[f][bin] += glow >> f & 1U;
    speed_sum += speed;
    height_sum += z;
  }
  // Micrometres beyond the vessel count for its outermost bin.
  tally.place({plan.vessel.radius + 1e-6, 0.0, -1e-6}, 0.0, 0);
  ++visits[(place_r_bins - 1) * place_z_bins];
  tally.place({0.0, 0.0, plan.vessel.height + 1e-6}, 0.0, 0);
  ++visits[place_z_bins - 1];
  DesignResult result{};
  result.fits.resize(design.fits.size());
  tally.write(result);
  CHECK(result.visits == visits);
  for (std::size_t f = 0; f < lit.size(); ++f) CHECK(result.fits[f].lit_by_place == lit[f]);
  CHECK(result.mean_speed == relative(speed_sum / (samples + 2), 1e-12));
  CHECK(result.mean_height == relative((height_sum + plan.vessel.height) / (samples + 2), 1e-12));
  // Never asked: no share of anything.
  CHECK(std::isnan(result.touching));
}
