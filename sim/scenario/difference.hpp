#pragma once

#include <optional>
#include <string>

namespace driftglow::scenario {

struct Difference {
  std::string key;          // "drive.driver.supply"; items of a list count from 1
  std::string here, there;  // as shown in a sentence: "`24 V`", "left out", "a list of 2"
};

// The first key, in the order of `here`, whose value is another in the two YAML texts; nothing where they
// differ in comments and layout at most. Texts that are no YAML differ in the key "".
std::optional<Difference> first_difference(const std::string& here, const std::string& there);

}  // namespace driftglow::scenario
