#include "sim/flight/tally.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <string>

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
