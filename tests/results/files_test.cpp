#include "sim/results/files.hpp"

#include <doctest/doctest.h>

#include <nlohmann/json.hpp>
#include <sstream>

#include "tests/relative.hpp"
#include "tests/results/made_up.hpp"
#include "tests/store/folder.hpp"

using namespace driftglow;

TEST_CASE("fields are quoted by RFC 4180") {
  CHECK(results::csv_field("plain text") == "plain text");
  CHECK(results::csv_field("a,b") == "\"a,b\"");
  CHECK(results::csv_field("say \"on\"") == "\"say \"\"on\"\"\"");
  CHECK(results::csv_field("two\nlines") == "\"two\nlines\"");
}

TEST_CASE("summary.csv has one row a design and emitter, empty where nothing is known") {
  auto campaign = results::made_up_campaign();
  for (auto& replicate : campaign.replicates) replicate.designs[0].fits[1].mean_off_spell = std::nan("");
  std::istringstream lines(results::summary_csv(results::summarise(results::made_up_outline(), campaign)));
  std::string head, first, second, none;
  std::getline(lines, head);
  std::getline(lines, first);
  std::getline(lines, second);
  CHECK_FALSE(std::getline(lines, none));
  CHECK(head.rfind(
            "tag_design,emitter,duty,duty_low_95,duty_high_95,flashes_per_minute,mean_on_s,mean_off_s,", 0) ==
        0);
  CHECK(std::count(head.begin(), head.end(), ',') == std::count(first.begin(), first.end(), ','));
  CHECK(first.rfind("jelly,yellow-green,0.5,0.25", 0) == 0);
  CHECK(second.find(",60,0.5,,0.001,") != std::string::npos);
}

TEST_CASE("summary.json parses, and what is not finite is null") {
  auto campaign = results::made_up_campaign();
  campaign.numbers.resize(1);
  campaign.replicates.resize(1);
  scenario::Scenario scenario{};
  scenario.title = "quote \" and \xff";  // a byte that is no UTF-8
  const auto text =
      results::summary_json(results::summarise(results::made_up_outline(), campaign), scenario, "0");
  const auto json = nlohmann::json::parse(text);
  CHECK(json["tag_designs"][0]["fits"][0]["duty"]["mean"] == 0.4);
  CHECK(json["tag_designs"][0]["fits"][0]["duty"]["half_width_95"].is_null());
  CHECK(json["tag_designs"][0]["duty_differences"][0]["second"] == "white");
}

TEST_CASE("flight.h5 gives back what was flown, each data set with unit and meaning") {
  store::Folder folder;
  auto campaign = results::made_up_campaign();
  auto& trace = campaign.replicates[1].trace;
  trace.time = {0.0, 0.02};
  trace.place.assign(2 * 2 * 3, 0.25F);
  trace.velocity = trace.axis = trace.place;
  trace.linkage.assign(2 * 2, 0.5F);
  trace.lit = {0, 1, 2, 3};
  const auto summary = results::summarise(results::made_up_outline(), campaign);
  scenario::Scenario scenario{};
  scenario.text = "title: x\n";
  results::write_results(folder.path(), summary, campaign, scenario, "0", store::start_run(1));
  CHECK(folder.names().size() == 3);
  const store::Reader file(folder / "flight.h5", "fly again");
  CHECK((file.read<double>("/duty/jelly/white", 1).values == std::vector<double>{0.20, 0.31, 0.39}));
  CHECK(file.number("/duty/jelly/yellow-green", "mean") == relative(0.5));
  CHECK((file.read<double>("/duty_by_tag/jelly/white", 2).extents == store::Extents{3, 2}));
  CHECK(file.read<std::int64_t>("/spells/jelly/white/on", 1).values[20] == 9);
  CHECK((file.read<std::int64_t>("/place/jelly/lit/white", 2).extents ==
         store::Extents{flight::place_r_bins, flight::place_z_bins}));
  CHECK(file.read<double>("/pinned/jelly/lid", 1).values[2] == 0.03);
  CHECK((file.read<std::int64_t>("/vessel/lit_at_once", 2).extents == store::Extents{3, 3}));
  CHECK((file.read<double>("/trace/1/place", 3).extents == store::Extents{2, 2, 3}));
  CHECK_FALSE(file.has("/trace/0"));
  CHECK(file.description("/duty/jelly/white").unit == "1");
}

TEST_CASE("a disk that is full leaves no file") {
  store::Folder folder;
  const auto campaign = results::made_up_campaign();
  const auto summary = results::summarise(results::made_up_outline(), campaign);
  const store::SizeLimit limit(4096);
  CHECK_THROWS(results::write_results(folder.path(), summary, campaign, {}, "0", store::start_run(1)));
  CHECK(folder.names().empty());
}
