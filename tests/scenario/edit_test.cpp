#include "sim/scenario/edit.hpp"

#include <doctest/doctest.h>

#include "sim/scenario/difference.hpp"

using namespace driftglow::scenario;

namespace {

const char* const text =
    "drive:\n"
    "  driver: {kind: current_fed_push_pull, supply: 24 V}\n"
    "  coils:\n"
    "    - {name: lower, centre: [0 mm, 0 mm, 80 mm], turns: 10}\n"
    "    - {name: upper, height: 240 mm, turns: 10}\n"
    "tags:\n"
    "  - name: a\n"
    "    receiver: &same {turns: 23, wire: 0.125 mm}\n"
    "    mix: {white: 3}\n"
    "  - {name: b.2, receiver: *same}\n";

NodePointer tree() {
  Faults faults("x");
  return parse_document(text, faults);
}

std::string fault(const std::string& path) {
  const auto found = find_key(*tree(), path);
  const auto* what = std::get_if<std::string>(&found);
  return what ? *what : "";
}

std::string set(const std::string& path, const std::string& value, const char* top) {
  const auto found = find_key(*tree(), path);
  REQUIRE(std::holds_alternative<KeyPlace>(found));
  return dump(*with_value(tree(), std::get<KeyPlace>(found), value), top);
}

}  // namespace

TEST_CASE("a value is found by names and numbers from 0") {
  const std::string before = dump(*tree(), "drive");
  CHECK(set("drive.coils[0].turns", "10", "drive") == before);
  CHECK(set("drive.coils[lower].turns", "11", "drive") == set("drive.coils[0].turns", "11", "drive"));
  CHECK(set("drive.coils[upper].turns", "11", "drive") != set("drive.coils[0].turns", "11", "drive"));
  CHECK(set("drive.coils[lower].centre[2]", "80 mm", "drive") == before);
  CHECK(set("drive.coils[lower].centre[1]", "80 mm", "drive") != before);
  CHECK(set("tags[a].mix.white", "3", "tags") == dump(*tree(), "tags"));
  CHECK(set("drive.driver.supply", "24 V", "tags") == dump(*tree(), "tags"));
}

TEST_CASE("an aliased block is changed in one place only, and what was left out is put in") {
  CHECK(set("tags[b.2].receiver.turns", "23", "tags") == dump(*tree(), "tags"));
  CHECK(set("tags[a].receiver.turns", "24", "tags") != set("tags[b.2].receiver.turns", "24", "tags"));
  CHECK(set("tags[a].receiver.tolerances.inductance", "2 %", "tags") != dump(*tree(), "tags"));
  CHECK(dump(*tree(), "air").empty());
  CHECK_FALSE(set("air.circulation", "1", "air").empty());
}

TEST_CASE("a wrong path says what would be right") {
  CHECK(fault("drive.driver.suply") == "has no key `suply` in drive.driver; did you mean `supply`?");
  CHECK(fault("drive.coils[middle].turns").find("expected one of `lower`, `upper` or a number from 0 to 1") !=
        std::string::npos);
  CHECK(fault("drive.coils[2].turns").find("is not there") != std::string::npos);
  CHECK(fault("drive.coils.turns").find("which item") != std::string::npos);
  CHECK(fault("drive.coils[0]").find("block of keys") != std::string::npos);
  CHECK(fault("drive.coils[lower].centre").find("three values") != std::string::npos);
  CHECK(fault("emitters[x].colour").find("the scenario has not") != std::string::npos);
  CHECK(fault("title").find("no single number or choice") != std::string::npos);
  CHECK(fault("drive.driver.supply.volt").find("nothing below") != std::string::npos);
  CHECK(fault("tags[a].fits").find("no single") != std::string::npos);
}

TEST_CASE("a value is held against its key alone") {
  const auto place = [&](const char* path) { return std::get<KeyPlace>(find_key(*tree(), path)); };
  CHECK(fault_of_value(place("drive.driver.supply"), "25 V").empty());
  CHECK(fault_of_value(place("drive.driver.supply"), "25 A").find("value `25 A`") == 0);
  CHECK(fault_of_value(place("drive.driver.supply"), "9 kV").find("out of range") != std::string::npos);
  CHECK(fault_of_value(place("tags[a].receiver.turns"), "24").empty());
  CHECK(fault_of_value(place("tags[a].mix.white"), "1.5").find("value `1.5`") == 0);
  CHECK(fault_of_value(place("drive.coils[lower].centre[2]"), "80").find("value `80`") == 0);
}

TEST_CASE("the first key that differs is named, comments are none") {
  const std::string here = text;
  CHECK_FALSE(first_difference(here, "# other\n" + here));
  auto there = here;
  there.replace(there.find("24 V"), 4, "23 V");
  there.replace(there.find("240 mm"), 6, "250 mm");
  const auto found = first_difference(here, there);
  REQUIRE(found);
  CHECK(found->key == "drive.driver.supply");
  CHECK(found->there == "`23 V`");
  CHECK(first_difference(here, here + "title: x\n")->here == "left out");
}

TEST_CASE("a value is changed in the text and nothing else is") {
  const auto changed = [](const std::string& from, const std::string& path, const std::string& value) {
    Faults faults("x");
    const auto root = parse_document(from, faults);
    const auto found = find_key(*root, path);
    REQUIRE(std::holds_alternative<KeyPlace>(found));
    return with_value_in_text(from, root, std::get<KeyPlace>(found), value);
  };
  std::string wanted = text;
  wanted.replace(wanted.find("supply: 24 V"), 12, "supply: 23.71 V");
  CHECK(changed(text, "drive.driver.supply", "23.71 V") == wanted);
  wanted = text;
  wanted.replace(wanted.find("80 mm]"), 5, "81.5 mm");
  CHECK(changed(text, "drive.coils[lower].centre[2]", "81.5 mm") == wanted);
  // Comments, quotes, letters of more than one byte and line ends of two characters stay.
  CHECK(changed("title: \"Gl\u00fchw\u00fcrmchen\"  # \u00b5\r\nvessel: {height: '320 mm', inner_diameter: "
                "190 mm} # b\r\n",
                "vessel.height", "321 mm") ==
        "title: \"Gl\u00fchw\u00fcrmchen\"  # \u00b5\r\nvessel: {height: 321 mm, inner_diameter: 190 mm} # "
        "b\r\n");
  CHECK(changed("vessel: {\u00e9: 1, height: 5 mm}", "vessel.height", "6 mm") ==
        "vessel: {\u00e9: 1, height: 6 mm}");
  // An alias would change elsewhere too; what is left out has no place; folded text is not in one piece.
  CHECK_FALSE(changed(text, "tags[b.2].receiver.turns", "24"));
  CHECK_FALSE(changed(text, "tags[a].receiver.turns", "24"));
  CHECK_FALSE(changed(text, "drive.driver.drop", "1 V"));
  CHECK_FALSE(changed("vessel:\n  height: >\n    320\n    mm\n", "vessel.height", "1 mm"));
}

TEST_CASE("what a unit is in SI, as a difference") {
  const auto of = [](const char* path, const char* unit) {
    const auto found = find_key(*tree(), path);
    return si_per(*std::get<KeyPlace>(found).key, unit);
  };
  CHECK(*of("drive.driver.supply", "mV") == doctest::Approx(1e-3));
  CHECK(*of("ambient.temperature", "degC") == doctest::Approx(1.0));
  CHECK(*of("air.side_vents.fraction", "%") == doctest::Approx(0.01));
  CHECK(*of("air.circulation", "") == 1.0);
  CHECK_FALSE(of("drive.driver.supply", "mm"));
}
