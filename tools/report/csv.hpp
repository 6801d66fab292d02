#pragma once

#include <string>
#include <vector>

#include "sim/results/setting.hpp"
#include "sim/results/summary.hpp"
#include "sim/study/run.hpp"

namespace driftglow::report {

struct CsvFile {
  std::string name;  // duty.csv
  std::string text;  // RFC 4180 with line feeds; a value that does not exist is an empty field
};

// The numbers behind every chart of the report, one file a chart; SI.
std::vector<CsvFile> chart_tables(const results::Setting& setting, const results::Summary& summary);

std::vector<CsvFile> study_tables(const study::Study& study, const study::Table& table);

}  // namespace driftglow::report
