#pragma once

#include "sim/study/run.hpp"

namespace driftglow::study {

// A study of one flight output and one of the sheet over a grid, as far as the analysis needs it.
inline Study made_up_study(const std::vector<std::size_t>& levels) {
  Study study{};
  for (std::size_t k = 0; k < levels.size(); ++k) {
    Variable variable{};
    variable.name = "v" + std::to_string(k);
    for (std::size_t i = 0; i < levels[k]; ++i) variable.levels.push_back(std::to_string(i));
    study.variables.push_back(std::move(variable));
  }
  study.kind = DesignKind::grid;
  study.outputs = {{"y", Document::flight, "y", ""}, {"p", Document::sheet, "p", ""}};
  study.goals = {{0, Want::most}};
  study.base.flight.seed = 3;
  return study;
}

}  // namespace driftglow::study
