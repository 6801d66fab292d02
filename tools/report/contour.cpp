#include "tools/report/contour.hpp"

#include <algorithm>
#include <limits>
#include <map>

namespace driftglow::report {
namespace {

struct Crossings {
  std::span<const double> values;
  std::array<int, 2> nodes;
  double level;
  int pad;  // nodes beyond the edge

  int wide() const { return nodes[0] + 2 * pad; }
  int tall() const { return nodes[1] + 2 * pad; }
  bool inside(int i, int j) const { return i >= 0 && j >= 0 && i < nodes[0] && j < nodes[1]; }
  double value(int i, int j) const {
    i -= pad;
    j -= pad;
    return inside(i, j) ? values[static_cast<std::size_t>(i) * nodes[1] + j]
                        : -std::numeric_limits<double>::infinity();
  }

  // Where the level is crossed between two neighbouring nodes; at the inner one where the other is beyond
  // the edge.
  std::array<double, 2> place(std::array<int, 2> a, std::array<int, 2> b) const {
    const double va = value(a[0], a[1]), vb = value(b[0], b[1]);
    double t = (level - va) / (vb - va);
    if (!inside(a[0] - pad, a[1] - pad)) t = 1.0;
    if (!inside(b[0] - pad, b[1] - pad)) t = 0.0;
    return {a[0] + t * (b[0] - a[0]) - pad, a[1] + t * (b[1] - a[1]) - pad};
  }
};

}  // namespace

std::vector<ContourLine> contours(std::span<const double> values, std::array<int, 2> nodes, double level,
                                  Border border) {
  const Crossings grid{values, nodes, level, border == Border::below ? 1 : 0};
  using Edge = std::pair<std::array<int, 2>, std::array<int, 2>>;  // lower node first
  std::map<Edge, Edge> next;
  std::map<Edge, int> arrivals;
  for (int i = 0; i + 1 < grid.wide(); ++i) {
    for (int j = 0; j + 1 < grid.tall(); ++j) {
      const std::array<std::array<int, 2>, 4> corner{{{i, j}, {i + 1, j}, {i + 1, j + 1}, {i, j + 1}}};
      std::array<bool, 4> high{};
      double sum = 0.0;
      for (int k = 0; k < 4; ++k) {
        const double v = grid.value(corner[k][0], corner[k][1]);
        high[k] = v >= level;
        sum += v;
      }
      const bool centre_high = 0.25 * sum >= level;
      const auto edge = [&](int k) {
        const auto a = corner[k], b = corner[(k + 1) % 4];
        return a < b ? Edge{a, b} : Edge{b, a};
      };
      const int count = high[0] + high[1] + high[2] + high[3];
      const bool saddle = count == 2 && high[0] == high[2];
      for (int k = 0; k < 4; ++k) {
        // Counter-clockwise round the cell: a line leaves where the corners fall and arrives where they rise.
        if (!high[k] || high[(k + 1) % 4]) continue;
        const int turn = saddle && !centre_high ? 3 : 1;
        int to = (k + turn) % 4;
        while (high[to] || !high[(to + 1) % 4]) to = (to + turn) % 4;
        next[edge(k)] = edge(to);
        ++arrivals[edge(to)];
      }
    }
  }
  std::vector<ContourLine> lines;
  const auto follow = [&](Edge at) {
    ContourLine line{grid.place(at.first, at.second)};
    for (auto found = next.find(at); found != next.end(); found = next.find(at)) {
      at = found->second;
      next.erase(found);
      line.push_back(grid.place(at.first, at.second));
    }
    lines.push_back(std::move(line));
  };
  std::vector<Edge> begins;
  for (const auto& [from, to] : next)
    if (!arrivals.contains(from)) begins.push_back(from);
  for (const auto& begin : begins) follow(begin);
  while (!next.empty()) follow(next.begin()->first);
  return lines;
}

}  // namespace driftglow::report
