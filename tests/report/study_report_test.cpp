#include "tools/report/study_report.hpp"

#include <doctest/doctest.h>

#include <fstream>

#include "tests/relative.hpp"
#include "tests/study/made_up.hpp"
#include "tools/report/csv.hpp"
#include "tools/report/markup.hpp"

using namespace driftglow;

namespace {

const std::string hostile_name = "</script><img src=x onerror=alert(1)>";

// Duty rises by the first variable and falls by the second, power by the first alone.
study::Study made_up() {
  auto made = study::made_up_study({3, 2});
  made.title = hostile_name;
  made.name = "made_up";
  made.variables[0].name = "supply";
  made.variables[0].levels = {"20 V", "24 V", "28 V"};
  made.variables[1].name = "capacitor";
  made.variables[1].levels = {"33 nF", "<b>47 nF"};
  made.outputs = {{"duty", study::Document::flight, "tag_designs[jelly].fits[white].duty", ""},
                  {"power", study::Document::sheet, "drive.supply_power", ""}};
  made.goals = {{0, study::Want::most}, {1, study::Want::least}};
  made.limits = {{1, {}, 0.35}};
  return made;
}

study::Table made_up_table() {
  study::Table table;
  for (int i = 0; i < 3; ++i) {
    for (int j = 0; j < 2; ++j) {
      const double duty = 0.40 + 0.05 * i - 0.002 * j;
      table.designs.push_back({static_cast<double>(i), static_cast<double>(j)});
      // The first of each pair is even more equal than the spread between replicates.
      table.results.push_back(
          {"", 4, {{duty - 0.010, duty + 0.012, duty - 0.004 * j, duty + 0.002}, {0.1 * (i + 1)}}});
    }
  }
  table.range = {0, 6};
  return table;
}

}  // namespace

// Replicates are off their mean by -11, 11, -1 and 1 points of 1000: Student's t 3.182 times 9.02/2 is 14.
TEST_CASE("the verdict of a study is in words") {
  const auto study = made_up();
  const auto table = made_up_table();
  CHECK(report::study_verdict(study, table) ==
        "Of 6 designs, the one with the most duty has supply 28 V, capacitor 33 nF: 50.1 ± 1.4 %. Not "
        "statistically distinct from it: rank 2. 3 designs trade the most duty for the least power.");
  auto tight = study;
  tight.limits = {{1, {}, 0.15}};
  CHECK(report::study_verdict(tight, table) ==
        "Of 6 designs (4 outside the limits), the one with the most duty has supply 20 V, capacitor 33 nF: "
        "40.1 ± 1.4 %. Not statistically distinct from it: rank 2. It has the least power "
        "too.");
  tight.limits = {{1, {}, 0.05}};
  CHECK(report::study_verdict(tight, table) == "Of 6 designs (6 outside the limits), none keeps the limits.");
}

TEST_CASE("a study's page is left for the check of its markup; hostile words are inert") {
  auto table = made_up_table();
  const auto html = report::render_study(made_up(), table, "0.1.0");
  CHECK(html == report::render_study(made_up(), table, "0.1.0"));
  CHECK(html.find("<img") == std::string::npos);
  CHECK(html.find("<b>") == std::string::npos);
  CHECK(html.find("&lt;b&gt;47 nF") != std::string::npos);
  for (const char* part : {"Ranking", "Pareto set", "Main effects", "Sobol' indices", "What was asked"})
    CHECK(html.find(report::escape(part) + "</h2>") != std::string::npos);
  CHECK(html.find("duty / %") != std::string::npos);
  CHECK(html.find("Not built") == std::string::npos);
  std::ofstream(STUDY_FILE, std::ios::binary) << html;

  table.results[2] = {"no " + hostile_name, 0, {{}, {}}};
  const auto refused = report::render_study(made_up(), table, "0.1.0");
  CHECK(refused.find("Not built</h2>") != std::string::npos);
  CHECK(refused.find("<img") == std::string::npos);
  CHECK(refused.find("Sobol&#39; indices</h2>") == std::string::npos);
}

TEST_CASE("the numbers of a study's charts") {
  const auto tables = report::study_tables(made_up(), made_up_table());
  REQUIRE(tables.size() == 4);
  CHECK(tables[2].name == "main_effects.csv");
  // Mean over both capacitors of the lowest supply: 0.40 - 0.001 and the replicates' own mean shift.
  CHECK(tables[2].text.find("duty,supply,20 V,0.3995,") != std::string::npos);
  // The power hangs on the supply alone.
  const std::string of_supply = "power,supply,";
  const auto at = tables[3].text.find(of_supply);
  REQUIRE(at != std::string::npos);
  CHECK(std::stod(tables[3].text.substr(at + of_supply.size())) == relative(1.0));
}
