#include "sim/scenario/fit_name.hpp"

#include <fmt/ranges.h>

#include <algorithm>

#include "models/error.hpp"
#include "sim/scenario/scenario.hpp"

namespace driftglow::scenario {

std::vector<std::string> emitters_of_fit(std::string_view fit) {
  std::vector<std::string> names;
  for (;;) {
    const auto bar = fit.find('|');
    const auto side = fit.substr(0, bar);
    const auto first = side.find_first_not_of(' ');
    names.emplace_back(first == side.npos ? "" : side.substr(first, side.find_last_not_of(' ') + 1 - first));
    if (bar == fit.npos) return names;
    fit.remove_prefix(bar + 1);
  }
}

std::string fit_name(const std::vector<std::string>& emitters) {
  return fmt::format("{}", fmt::join(emitters, " | "));
}

std::vector<const Emitter*> Scenario::emitters_of(const std::string& fit) const {
  std::vector<const Emitter*> found;
  for (const std::string& wanted : emitters_of_fit(fit)) {
    const auto emitter =
        std::find_if(emitters.begin(), emitters.end(), [&](const Emitter& e) { return e.name == wanted; });
    if (emitter == emitters.end()) throw LogicError("fit without emitter: " + fit);
    found.push_back(&*emitter);
  }
  return found;
}

}  // namespace driftglow::scenario
