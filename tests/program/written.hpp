#pragma once

#include "sim/store/hdf5_file.hpp"
#include "tests/program/run.hpp"

namespace driftglow::program_test {

// All that a flight writes, but for the run's own attributes.
struct Written {
  std::string csv, json, report, flight_digest;
  friend bool operator==(const Written&, const Written&) = default;
};

inline Written written(const std::filesystem::path& out) {
  return {read(out / "summary.csv"), read(out / "summary.json"), read(out / "report.html"),
          store::Reader(out / "flight.h5", "").content_digest()};
}

}  // namespace driftglow::program_test
