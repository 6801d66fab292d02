#include "sim/flight/tally.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <string>

#include "sim/scenario/reader.hpp"
#include "tests/relative.hpp"

using namespace driftglow::flight;

// By hand: steps of 10 ms, lit as below; the first and the last spell are cut and not whole.
TEST_CASE("spells, flashes and light of a short record by hand") {
  SpellTally tally;
  for (const char c : std::string("110001111001100")) tally.step(c == '1', c == '1' ? 2e-3 : 0.0, 0.01);
  CHECK(tally.on_steps == 8);
  CHECK(tally.flashes == 2);
  CHECK(tally.whole_on == 2);
  CHECK(tally.whole_on_steps == 6);
  CHECK(tally.whole_off == 2);
  CHECK(tally.whole_off_steps == 5);
  CHECK(tally.current_sum == relative(8 * 2e-3));
  // Blondel-Rey: I dt / (0.2 s + dt) of 40 ms and of 20 ms.
  CHECK(tally.effective_current_sum == relative(2e-3 * 0.04 / 0.24 + 2e-3 * 0.02 / 0.22, 1e-12));
  CHECK(tally.on_spells[spell_bin(0.04)] == 1);
  CHECK(tally.on_spells[spell_bin(0.02)] == 1);
  CHECK(tally.off_spells[spell_bin(0.03)] == 1);
}

TEST_CASE("a tag that never changes has no whole spell") {
  SpellTally always, never;
  for (int i = 0; i < 100; ++i) {
    always.step(true, 1e-3, 0.01);
    never.step(false, 0.0, 0.01);
  }
  CHECK(always.on_steps == 100);
  CHECK(always.flashes + always.whole_on + never.whole_off + never.on_steps == 0);
}

TEST_CASE("a spell's bin holds it, on the edge too") {
  for (int k = 0; k < spell_bins - 1; ++k) {
    CHECK(spell_bin(spell_bin_start(k)) == k);
    CHECK(spell_bin(std::sqrt(spell_bin_start(k) * spell_bin_start(k + 1))) == k);
  }
  CHECK(spell_bin(1e9) == spell_bins - 1);
  CHECK(spell_bin(1e-9) == 0);
}

// By hand: a tag rests on the floor, is carried off, and comes back. The half-second behind a sample must be
// whole and within one radius of it; a sample without a whole window counts neither way.
TEST_CASE("pinned needs contact and half a second in one place") {
  const auto scenario =
      driftglow::scenario::read_scenario(std::string(DRIFTGLOW_SOURCE_DIR) + "/configs/plankton_column.yaml");
  auto drive = driftglow::maps::make_drive(scenario, "");
  auto air = driftglow::maps::make_air(scenario);
  const Plan plan = make_plan(scenario, std::move(air), std::move(drive));
  const DesignPlan& design = plan.designs.front();
  PlaceTally tally(plan, design);
  const auto sample = [&](double x, double z, int count) {
    for (int i = 0; i < count; ++i) {
      const driftglow::numeric::Vec3<double> p{x, 0.0, z};
      tally.rest(0, p, driftglow::motion::gaps(design.body, plan.vessel, p));
      tally.remember(0, p);
    }
  };
  sample(0.0, 0.015, 10);  // on the floor, window not yet whole: not counted
  sample(0.0, 0.015, 10);  // pinned 10 times
  sample(0.0, 0.200, 10);  // in the air
  sample(0.02, 0.015,
         10);  // back, but its window still reaches into the air: the last place is one sample short
  sample(0.02, 0.015, 5);   // pinned 5 times
  sample(0.08, 0.160, 20);  // pinned at the wall from the 11th: 10 times
  DesignResult result{};
  result.fits.resize(design.fits.size());
  tally.write(result);
  CHECK(result.pinned[driftglow::motion::floor] == doctest::Approx(15.0 / 55.0));
  CHECK(result.pinned[driftglow::motion::wall] == doctest::Approx(10.0 / 55.0));
  CHECK(result.touching == doctest::Approx(55.0 / 65.0));
}
