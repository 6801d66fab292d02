#include "tools/report/report.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <fstream>

#include "tests/results/made_up.hpp"

using namespace driftglow;

namespace {

const std::string hostile = "</script><img src=x onerror=alert(1)> & \"quotes\"";

scenario::Scenario made_up_scenario() {
  scenario::Scenario scenario{};
  scenario.title = hostile;
  scenario.name = "made_up";
  scenario.hash = "00";
  scenario.ambient = {293.15, 101325.0, 2e-6, 2.0};
  scenario.vessel = {0.2, 0.3};
  scenario.drive = scenario::UniformField{40e-6, 118e3, {0.0, 0.0, 1.0}, {}};
  auto& column = scenario.air.source.emplace<scenario::ColumnAir>();
  column.flow = 0.07;
  column.profile_exponent = 4.0;
  column.circulation = 1.2;
  column.swirl_speed = 0.4;
  column.swirl_core_radius = 0.03;
  column.swirl_wall_exponent = 6.0;
  column.fin_swirl_factor = 1.0;
  column.turbulence_intensity = 0.1;
  column.turbulence_floor = 1e-4;
  scenario.flight = {10.0, 1.0, 0.001, 3, {}, 7, scenario::Coupling::off, {0, 0.02}};
  return scenario;
}

flight::Plan made_up_plan(const scenario::Scenario& scenario) {
  return flight::make_plan(scenario, maps::make_air(scenario),
                           {118e3, std::get<scenario::UniformField>(scenario.drive)});
}

// Spells and places that look like something, for the eye.
flight::CampaignResult varied_campaign() {
  auto campaign = results::made_up_campaign();
  for (auto& replicate : campaign.replicates) {
    auto& design = replicate.designs[0];
    for (int i = 0; i < flight::place_r_bins; ++i) {
      for (int j = 0; j < flight::place_z_bins; ++j) {
        const auto at = i * flight::place_z_bins + j;
        design.visits[at] = i == 15 || j < 2 || j > 29 ? 0 : 1000;
        design.fits[0].lit_by_place[at] = design.visits[at] * (20 + i * 2 + j) / 100;
        design.fits[1].lit_by_place[at] = design.visits[at] * (5 + i * 2 + j / 2) / 100;
      }
    }
    for (int fit = 0; fit < 2; ++fit) {
      for (int bin = 8; bin < 36; ++bin) {
        const double x = (bin - 22.0 - 2.0 * fit) / 5.0;
        design.fits[fit].on_spells[bin] = std::llround(1000.0 * std::exp(-x * x));
        design.fits[fit].off_spells[bin] = std::llround(800.0 * std::exp(-0.5 * x * x));
      }
    }
  }
  return campaign;
}

}  // namespace

TEST_CASE("the verdict is in words") {
  const auto summary = results::summarise(results::made_up_outline(), results::made_up_campaign());
  CHECK(
      report::verdict(summary.designs[0], summary.outline.designs[0]) ==
      "yellow-green glows 50 ± 25 % of the time, white 30 ± 24 %; 20 ± 2 points apart on the same flights.");
}

TEST_CASE("the report is left for the check of its markup; hostile words are inert; same bytes again") {
  const auto scenario = made_up_scenario();
  const auto plan = made_up_plan(scenario);
  auto outline = results::made_up_outline();
  const auto summary = results::summarise(outline, varied_campaign());
  const std::vector<std::string> cautions{"Field at the wall 99 µT rms: above public reference levels.",
                                          hostile};
  const auto html = report::render_report(scenario, plan, summary, cautions, "0.1.0");
  CHECK(html == report::render_report(scenario, plan, summary, cautions, "0.1.0"));
  CHECK(html.find("<img") == std::string::npos);
  CHECK(html.find("<script") == std::string::npos);
  CHECK(html.find("&lt;/script&gt;&lt;img src=x onerror=alert(1)&gt; &amp; &quot;quotes&quot;") !=
        std::string::npos);
  // With `raw` text the checks above would fail: the title holds what they look for.
  CHECK(scenario.title.find("<img") != std::string::npos);
  std::ofstream(REPORT_FILE, std::ios::binary) << html;
}
