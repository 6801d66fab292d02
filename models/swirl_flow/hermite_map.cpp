#include "models/swirl_flow/hermite_map.hpp"

#include "models/error.hpp"
#include "models/swirl_flow/monotone.hpp"

namespace driftglow::swirl_flow {
namespace {

// Monotone slopes per cell along the columns (over i) of f.
Eigen::MatrixXd slopes(const Eigen::MatrixXd& f) {
  std::vector<double> place(static_cast<std::size_t>(f.rows())), line(place.size());
  for (std::size_t i = 0; i < place.size(); ++i) place[i] = double(i);
  Eigen::MatrixXd result(f.rows(), f.cols());
  for (Eigen::Index j = 0; j < f.cols(); ++j) {
    Eigen::VectorXd::Map(line.data(), f.rows()) = f.col(j);
    const auto slope = monotone_slopes(place, line);
    result.col(j) = Eigen::VectorXd::Map(slope.data(), f.rows());
  }
  return result;
}

}  // namespace

HermiteMap::HermiteMap(numeric::UniformAxis x, numeric::UniformAxis y,
                       std::span<const Eigen::MatrixXd> channels)
    : x_(x), y_(y), inverse_step_x_(1.0 / x.step), inverse_step_y_(1.0 / y.step) {
  const auto count = channels.size();
  row_length_ = static_cast<int>(4 * count) * y.nodes;
  table_.resize(static_cast<std::size_t>(row_length_) * x.nodes);
  for (std::size_t c = 0; c < count; ++c) {
    const Eigen::MatrixXd& f = channels[c];
    if (x.nodes < 4 || y.nodes < 4 || f.rows() != x.nodes || f.cols() != y.nodes) {
      throw LogicError("a Hermite map needs at least 4 nodes an axis and as many values as nodes");
    }
    const Eigen::MatrixXd f_x = slopes(f), f_y = slopes(f.transpose()).transpose();
    const Eigen::MatrixXd f_xy = slopes(f_x.transpose()).transpose();
    for (int i = 0; i < x.nodes; ++i) {
      for (int j = 0; j < y.nodes; ++j) {
        double* node = &table_[static_cast<std::size_t>(i) * row_length_ + (j * count + c) * 4];
        node[0] = f(i, j), node[1] = f_y(i, j), node[2] = f_x(i, j), node[3] = f_xy(i, j);
      }
    }
  }
  single_table_.assign(table_.begin(), table_.end());
}

}  // namespace driftglow::swirl_flow
