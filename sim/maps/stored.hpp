#pragma once

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "models/numeric/bspline_map.hpp"
#include "sim/store/hdf5_file.hpp"
#include "sim/store/plausible.hpp"

namespace driftglow::maps {

// Where a file of maps cannot be used.
inline constexpr const char* remedy = "remove it and it will be computed again";

inline void write_axis(store::Writer& file, const std::string& path, const numeric::UniformAxis& axis,
                       const std::string& meaning) {
  std::vector<double> nodes(axis.nodes);
  for (int i = 0; i < axis.nodes; ++i) nodes[i] = axis.at(i);
  file.write(path, nodes, {nodes.size()}, {"m", meaning});
}

// Rows slowest, as [r][z] is read by h5py.
inline void write_matrix(store::Writer& file, const std::string& path, const Eigen::MatrixXd& values,
                         const store::Description& description) {
  const Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor> rows = values;
  file.write(path, {rows.data(), static_cast<std::size_t>(rows.size())},
             {static_cast<std::uint64_t>(rows.rows()), static_cast<std::uint64_t>(rows.cols())}, description);
}

inline void expect_plausible(const store::Reader& file, const std::string& path,
                             const std::vector<double>& values) {
  file.expect(std::all_of(values.begin(), values.end(), store::plausible),
              path + " has a value that is not finite or beyond 1e12");
}

// As write_axis() has written it. Throws InputError where the nodes are not even, or too few for a spline.
inline numeric::UniformAxis read_axis(const store::Reader& file, const std::string& path) {
  const auto nodes = file.read<double>(path, 1).values;
  expect_plausible(file, path, nodes);
  file.expect(nodes.size() >= 4 && nodes.front() < nodes.back(),
              path + " is no rising axis of 4 nodes or more");
  const int count = static_cast<int>(nodes.size());
  const numeric::UniformAxis axis{nodes.front(), (nodes.back() - nodes.front()) / (count - 1), count};
  for (int i = 0; i < count; ++i)
    file.expect(std::fabs(nodes[i] - axis.at(i)) <= 1e-6 * axis.step, path + " is not even");
  return axis;
}

inline double read_plausible(const store::Reader& file, const std::string& group, const std::string& name) {
  const double value = file.number(group, name);
  file.expect(store::plausible(value), group + "@" + name + " is not finite or beyond 1e12");
  return value;
}

// Throws InputError where a value is not plausible.
inline Eigen::MatrixXd read_matrix(const store::Reader& file, const std::string& path) {
  const auto stored = file.read<double>(path, 2);
  expect_plausible(file, path, stored.values);
  return Eigen::Map<const Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>>(
      stored.values.data(), static_cast<Eigen::Index>(stored.extents[0]),
      static_cast<Eigen::Index>(stored.extents[1]));
}

}  // namespace driftglow::maps
