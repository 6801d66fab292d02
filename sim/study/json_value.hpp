#pragma once

#include <nlohmann/json.hpp>
#include <string>
#include <variant>

namespace driftglow::study {

// The number at a path of a JSON document: "vessel.share_with_number_lit[4..]". Items of a list by number
// from 0, or by what they say in `name`, `tag_design`, `emitter` or `colour`; `[a..b]` and `[a..]` are sums.
// Of an estimate its mean; null is not a number. The text, instead, says what is wrong with the path.
std::variant<double, std::string> json_value(const nlohmann::ordered_json& document, const std::string& path);

}  // namespace driftglow::study
