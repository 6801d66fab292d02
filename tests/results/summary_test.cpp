#include "sim/results/summary.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "models/error.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"
#include "tests/results/made_up.hpp"

using namespace driftglow;

// Student's t, two-sided 95 %, from any printed table (three decimals): 2 degrees of freedom 4.303, 4
// degrees 2.776.
constexpr double table_digits = 2e-4;

TEST_CASE("duty and its interval are those of the replicates' values") {
  const Outside outside("Student's t, tables");
  const auto summary = results::summarise(results::made_up_outline(), results::made_up_campaign());
  const auto& duty = summary.designs.at(0).fits.at(0).duty;
  // By hand: 0.4, 0.5, 0.6 have standard deviation 0.1.
  outside.matches("mean duty", duty.mean, 0.5, 1e-12);
  outside.matches("half width of a duty", duty.half_width, 4.303 * 0.1 / std::sqrt(3.0), table_digits);
  CHECK(duty.count == 3);
  CHECK(summary.designs[0].fits[0].tag_duty.at(1).mean == relative(0.51, 1e-12));
}

TEST_CASE("paired differences are narrower than unpaired ones where the flights are shared") {
  const Outside outside("Student's t and Welch, tables");
  const auto summary = results::summarise(results::made_up_outline(), results::made_up_campaign());
  REQUIRE(summary.designs[0].differences.size() == 1);
  const auto& difference = summary.designs[0].differences[0];
  // By hand: 0.20, 0.19, 0.21, standard deviation 0.01.
  CHECK(difference.paired.mean == relative(0.2, 1e-12));
  outside.matches("half width of a paired difference", difference.paired.half_width,
                  4.303 * 0.01 / std::sqrt(3.0), table_digits);
  // By hand, Welch: variances 0.01 and 0.0091 over 3, degrees of freedom 2 (0.0191^2)/(0.01^2 + 0.0091^2)
  // = 3.99, rounded down to 3; t = 3.182.
  outside.matches("half width of an unpaired difference", difference.unpaired_half_width,
                  3.182 * std::sqrt(0.0191 / 3.0), table_digits);
}

TEST_CASE("equal spreads have twice the degrees of freedom when unpaired") {
  auto campaign = results::made_up_campaign();
  for (auto& replicate : campaign.replicates)
    replicate.designs[0].fits[1].duty = replicate.designs[0].fits[0].duty;
  const auto difference = results::summarise(results::made_up_outline(), campaign).designs[0].differences[0];
  CHECK(difference.paired.half_width == 0.0);
  CHECK(difference.unpaired_half_width == relative(2.776 * std::sqrt(0.02 / 3.0), table_digits));
}

TEST_CASE("counts add up over replicates, shares are of the time") {
  const auto summary = results::summarise(results::made_up_outline(), results::made_up_campaign());
  const auto& design = summary.designs[0];
  CHECK(design.fits[0].on_spells[20] == 9);
  CHECK(design.fits[1].off_spells[24] == 15);
  CHECK(design.visits[0] == 12);
  CHECK(design.fits[0].lit_by_place[0] == 3);
  CHECK(design.pinned_anywhere.mean == relative(0.06, 1e-12));
  CHECK(summary.vessel.lit_at_once[0].mean == relative(0.5, 1e-12));
  CHECK(summary.vessel.mean_lit.mean == relative(0.3 + 2 * 0.2, 1e-12));
  CHECK(summary.vessel.longest_dark == 4.5);
  CHECK(summary.vessel.longest_dark_each.mean == relative(2.5, 1e-12));
  CHECK(summary.vessel.colour_intensity[1].mean == relative(0.004, 1e-12));
}

TEST_CASE("a spell that never ended in one replicate is left out; one replicate has no interval") {
  auto campaign = results::made_up_campaign();
  campaign.replicates[0].designs[0].fits[0].mean_on_spell = std::nan("");
  CHECK(results::summarise(results::made_up_outline(), campaign).designs[0].fits[0].mean_on_spell.count == 2);
  campaign.numbers.resize(1);
  campaign.replicates.resize(1);
  const auto summary = results::summarise(results::made_up_outline(), campaign);
  CHECK(std::isnan(summary.designs[0].fits[0].mean_on_spell.mean));
  CHECK(std::isinf(summary.designs[0].fits[0].duty.half_width));
  CHECK(std::isinf(summary.designs[0].differences[0].unpaired_half_width));
}

TEST_CASE("a plain threshold has no current") {
  auto outline = results::made_up_outline();
  outline.designs[0].receiver = results::Receiver::threshold;
  const auto summary = results::summarise(outline, results::made_up_campaign());
  CHECK(std::isnan(summary.designs[0].fits[0].mean_current.mean));
  CHECK(summary.designs[0].fits[0].duty.mean == relative(0.5));
}

TEST_CASE("results of another shape are refused") {
  auto campaign = results::made_up_campaign();
  campaign.replicates[1].designs[0].fits.pop_back();
  CHECK_THROWS_AS(results::summarise(results::made_up_outline(), campaign), LogicError);
  CHECK_THROWS_AS(results::summarise(results::made_up_outline(), flight::CampaignResult{}), LogicError);
}
