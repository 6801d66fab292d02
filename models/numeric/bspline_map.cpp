#include "models/numeric/bspline_map.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdint>

#include "models/error.hpp"

namespace driftglow::numeric {
namespace {

// Of the splines along the columns of `values` [n][width], as [width][n + 2]: each call turns the table over.
Eigen::MatrixXd prefilter(const Eigen::MatrixXd& values, EdgeRule low) {
  const Eigen::MatrixXd lines = values.transpose();
  Eigen::MatrixXd coefficients(lines.rows(), lines.cols() + 2);
  spline_coefficients(lines.data(), static_cast<int>(lines.cols()), lines.rows(), low, coefficients.data());
  return coefficients;
}

}  // namespace

BsplineMap::BsplineMap(UniformAxis x, UniformAxis y, EdgeRule low_x,
                       std::span<const Eigen::MatrixXd> channels, int fixed)
    : x_(x),
      y_(y),
      inverse_step_x_(1.0 / x.step),
      inverse_step_y_(1.0 / y.step),
      channels_(static_cast<int>(channels.size())) {
  if (x.nodes < 4 || y.nodes < 4) throw LogicError("a spline map needs at least 4 nodes an axis");
  const int rows = x.nodes + 2, columns = y.nodes + 2;
  row_length_ = columns * channels_;
  table_.coefficients.resize(static_cast<std::size_t>(rows) * columns * channels_);
  for (int c = 0; c < channels_; ++c) {
    const Eigen::MatrixXd& values = channels[c];
    if (values.rows() != x.nodes || values.cols() != y.nodes)
      throw LogicError("spline map: values do not fit the axes");
    const Eigen::MatrixXd both = prefilter(prefilter(values, low_x), EdgeRule::not_a_knot);
    for (int i = 0; i < rows; ++i) {
      for (int j = 0; j < columns; ++j) {
        table_.coefficients[(static_cast<std::size_t>(i) * columns + j) * channels_ + c] = both(i, j);
      }
    }
  }
  const auto is_fixed = [&](std::size_t i) { return static_cast<int>(i % channels_) < fixed; };
  double largest = 0.0;
  for (std::size_t i = 0; i < table_.coefficients.size(); ++i)
    if (is_fixed(i)) largest = std::max(largest, std::fabs(table_.coefficients[i]));
  // Below 2^30 quanta, so that no difference of two leaves 32 bits.
  if (largest > 0.0) quantum_ = std::ldexp(1.0, std::ilogb(largest) - 29);
  table_.single.resize(table_.coefficients.size());
  for (std::size_t i = 0; i < table_.coefficients.size(); ++i) {
    if (is_fixed(i)) {
      table_.coefficients[i] /= quantum_;
      table_.single[i] = std::bit_cast<float>(static_cast<std::int32_t>(std::lround(table_.coefficients[i])));
    } else {
      table_.single[i] = static_cast<float>(table_.coefficients[i]);
    }
  }
}

}  // namespace driftglow::numeric
