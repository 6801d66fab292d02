#pragma once

#include <fmt/format.h>

#include <vector>

#include "sim/store/hdf5_file.hpp"
#include "tests/program/run.hpp"

namespace driftglow::program_test {

// The trace of one replicate in folder/out.
struct Recorded {
  std::vector<double> time, place, velocity;
  std::size_t tags;
  const double* at(const std::vector<double>& of, std::size_t sample, std::size_t tag) const {
    return &of[(sample * tags + tag) * 3];
  }
};

inline Recorded recorded(const Folder& folder, int replicate) {
  const store::Reader file(folder.path() / "out" / "flight.h5", "");
  const std::string group = fmt::format("/trace/{}/", replicate);
  auto place = file.read<double>(group + "place", 3);
  return {file.read<double>(group + "time", 1).values, std::move(place.values),
          file.read<double>(group + "velocity", 3).values, place.extents[1]};
}

}  // namespace driftglow::program_test
