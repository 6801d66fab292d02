#include "tools/report/report.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <fstream>

#include "tests/results/made_up.hpp"

using namespace driftglow;

namespace {

const std::string hostile = "</script><img src=x onerror=alert(1)> & \"quotes\"";

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
  auto setting = results::made_up_setting();
  setting.title = hostile;
  setting.name = hostile;
  setting.cautions.push_back(hostile);
  setting.coils[0].name = hostile;
  setting.outline.designs[0].fits[1] = hostile;
  auto campaign = varied_campaign();
  auto& trace = campaign.replicates[0].trace;
  for (int i = 0; i < 50; ++i) {
    trace.time.push_back(0.02 * i);
    for (int tag = 0; tag < 2; ++tag) {
      for (const double x : {0.05 * std::cos(0.1 * i), 0.05 * std::sin(0.1 * i), 0.1 + 0.002 * i})
        trace.place.push_back(static_cast<float>(x));
      for (const float n : {0.0F, 0.6F, 0.8F}) trace.axis.push_back(n);
      trace.lit.push_back(3);
      trace.current.insert(trace.current.end(), {4e-4F, 8e-4F});
    }
  }
  const store::Origin origin{"0.1.0", "", "00", 7};
  const auto html = report::render_report(setting, campaign, origin);
  CHECK(html == report::render_report(setting, campaign, origin));
  CHECK(html.find("<img") == std::string::npos);
  CHECK(html.find("\u2028") == std::string::npos);
  CHECK(html.find("&lt;/script&gt;&lt;img src=x onerror=alert(1)&gt; &amp; &quot;quotes&quot;") !=
        std::string::npos);
  // In the data block of the replay.
  CHECK(html.find("\\u003c/script\\u003e\\u003cimg") != std::string::npos);
  // Two scripts: the data and the page's own.
  std::size_t ends = 0;
  for (auto at = html.find("</script"); at != std::string::npos; at = html.find("</script", at + 1)) ++ends;
  CHECK(ends == 2);
  // With `raw` text the checks above would fail: the title holds what they look for.
  CHECK(setting.title.find("<img") != std::string::npos);
  std::ofstream(REPORT_FILE, std::ios::binary) << html;
}

TEST_CASE("without a trace the report says so") {
  const auto html =
      report::render_report(results::made_up_setting(), varied_campaign(), {"0.1.0", "", "00", 7});
  CHECK(html.find("Nothing was recorded") != std::string::npos);
  CHECK(html.find("replay-data\">") == std::string::npos);
}
