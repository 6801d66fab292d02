#include "sim/results/files.hpp"

#include <doctest/doctest.h>

#include <nlohmann/json.hpp>
#include <sstream>

#include "models/error.hpp"
#include "tests/relative.hpp"
#include "tests/results/made_up.hpp"
#include "tests/store/folder.hpp"

using namespace driftglow;

static const store::Origin origin{"0", "title: x\n", "00", 7};

static scenario::Scenario made_up_scenario() {
  scenario::Scenario scenario{};
  scenario.title = "Jelly";
  scenario.name = "jelly";
  scenario.text = origin.scenario_text;
  scenario.hash = origin.scenario_hash;
  return scenario;
}

static flight::Trace made_up_trace() {
  flight::Trace trace;
  trace.time = {0.0, 0.02};
  trace.place.assign(2 * 2 * 3, 0.25F);
  trace.velocity = trace.axis = trace.place;
  trace.linkage.assign(2 * 2, 0.5F);
  trace.lit = {0, 1, 2, 3};
  trace.current.assign(2 * 2 * 2, 0.001F);
  return trace;
}

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

TEST_CASE("the ledger of energy is in the summaries, its worst replicate too") {
  auto campaign = results::made_up_campaign();
  const auto text = [&] {
    return results::summary_csv(results::summarise(results::made_up_outline(), campaign));
  };
  CHECK(text().find(",replicates,input_power_W,energy_worst_violation\n") != std::string::npos);
  CHECK(text().find(",3,10,0\n") != std::string::npos);
  campaign.replicates[1].ledger->copper += 0.5;
  CHECK(text().find(",3,10,0.05\n") != std::string::npos);
  const auto json = results::summary_document(results::summarise(results::made_up_outline(), campaign),
                                              made_up_scenario(), "0");
  CHECK(json["energy"]["source"] == "the supply");
  CHECK(json["energy"]["worst_violation"] == 0.05);
  CHECK(json["energy"]["tag_leds_W"]["mean"] == 0.1875);
  // One replicate of an older file is enough for none.
  campaign.replicates[2].ledger.reset();
  CHECK(text().find(",3,,\n") != std::string::npos);
}

TEST_CASE("summary.json parses, and what is not finite is null") {
  auto campaign = results::made_up_campaign();
  campaign.numbers.resize(1);
  campaign.replicates.resize(1);
  auto scenario = made_up_scenario();
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
  trace.current.assign(2 * 2 * 2, 0.001F);
  const auto setting = results::made_up_setting();
  results::write_results(folder.path(), summary, campaign, made_up_scenario(), setting, "0",
                         store::start_run(1));
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

TEST_CASE("a flight read back has the summary, the setting and the trace of the one that was written") {
  store::Folder folder;
  auto campaign = results::made_up_campaign();
  const auto trace = campaign.replicates[0].trace = made_up_trace();
  const auto setting = results::made_up_setting();
  const auto summary = results::summarise(setting.outline, campaign);
  results::write_results(folder.path(), summary, campaign, made_up_scenario(), setting, "0",
                         store::start_run(1));
  const auto stored = results::read_flight(folder / "flight.h5");
  const auto again = results::summarise(stored.setting.outline, stored.campaign);
  CHECK(results::summary_json(again, made_up_scenario(), "0") ==
        results::summary_json(summary, made_up_scenario(), "0"));
  CHECK(stored.setting.sheet == setting.sheet);
  CHECK(stored.setting.cautions == setting.cautions);
  CHECK(stored.setting.flux_density == setting.flux_density);
  CHECK(stored.setting.u_z == setting.u_z);
  CHECK(stored.setting.coils[0].turns == setting.coils[0].turns);
  CHECK(stored.setting.glow[0][1][0].xyz_per_current == setting.glow[0][1][0].xyz_per_current);
  CHECK(stored.campaign.replicates[0].trace.current == trace.current);
  CHECK(stored.campaign.replicates[0].trace.lit == trace.lit);
  CHECK(stored.campaign.replicates[1].trace.time.empty());
}

TEST_CASE("a file that is no flight is refused in a sentence") {
  store::Folder folder;
  store::Writer(folder / "other.h5", origin).commit(store::start_run(1));
  CHECK_THROWS_WITH_AS(results::read_flight(folder / "other.h5"),
                       doctest::Contains("holds no flight that a report can be made of"), InputError);
}

TEST_CASE("a disk that is full leaves no file") {
  store::Folder folder;
  const auto campaign = results::made_up_campaign();
  const auto summary = results::summarise(results::made_up_outline(), campaign);
  const store::SizeLimit limit(4096);
  CHECK_THROWS(results::write_results(folder.path(), summary, campaign, made_up_scenario(),
                                      results::made_up_setting(), "0", store::start_run(1)));
  CHECK(folder.names().empty());
}
