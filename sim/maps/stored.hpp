#pragma once

#include <Eigen/Core>
#include <string>
#include <vector>

#include "models/numeric/bspline_map.hpp"
#include "sim/store/hdf5_file.hpp"

namespace driftglow::maps {

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

inline Eigen::MatrixXd read_matrix(const store::Reader& file, const std::string& path) {
  const auto stored = file.read<double>(path, 2);
  return Eigen::Map<const Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>>(
      stored.values.data(), static_cast<Eigen::Index>(stored.extents[0]),
      static_cast<Eigen::Index>(stored.extents[1]));
}

}  // namespace driftglow::maps
