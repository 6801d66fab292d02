#include "sim/study/json_value.hpp"

#include <doctest/doctest.h>

#include <cmath>

using driftglow::study::json_value;

namespace {

const auto document = nlohmann::ordered_json::parse(R"({
  "tag_designs": [{"tag_design": "a.b", "fits": [{"emitter": "white", "duty": {"mean": 0.25, "low_95": 0.2}}]}],
  "lit": [{"mean": 0.1}, {"mean": 0.2}, {"mean": 0.3}, {"mean": 0.4}],
  "power": 5, "none": null, "warm": true, "text": "x"})");

double number(const std::string& path) {
  return std::get<double>(json_value(document, path));
}

std::string fault(const std::string& path) {
  return std::get<std::string>(json_value(document, path));
}

}  // namespace

TEST_CASE("numbers, means, items by name and number, sums") {
  CHECK(number("power") == 5.0);
  CHECK(number("warm") == 1.0);
  CHECK(std::isnan(number("none")));
  CHECK(number("tag_designs[a.b].fits[white].duty") == 0.25);
  CHECK(number("tag_designs[0].fits[0].duty.low_95") == 0.2);
  CHECK(number("lit[2]") == 0.3);
  CHECK(number("lit[2..]") == doctest::Approx(0.7));
  CHECK(number("lit[0..1]") == doctest::Approx(0.3));
}

TEST_CASE("a path that leads nowhere says where it ends") {
  CHECK(fault("pover") == "has no `pover`; did you mean `power`?");
  CHECK(fault("lit") == "is a list; expected a number in brackets");
  CHECK(fault("text") == "is text; expected a number");
  CHECK(fault("tag_designs[c]") == "has no item `c`; expected `a.b` or a number from 0 to 0");
  CHECK(fault("lit[4]").find("from 0 to 3") != std::string::npos);
  CHECK(fault("lit[1").find("not closed") != std::string::npos);
  CHECK(fault("power.watt").find("below a value") != std::string::npos);
  CHECK(fault("tag_designs[0].fits[0]").find("expected one of `emitter`, `duty` below it") !=
        std::string::npos);
}
