#include "models/coil/conductor_inductance.hpp"

#include <Eigen/Geometry>
#include <algorithm>
#include <boost/math/quadrature/gauss_kronrod.hpp>
#include <cmath>
#include <utility>
#include <vector>

#include "models/constants.hpp"
#include "models/error.hpp"

namespace driftglow::coil {
namespace {

using constant::mu_0;
using constant::pi;
using Eigen::Vector3d;

constexpr double wanted = 1e-12;  // of the integral of |A.dl|

struct Integral {
  double value, magnitude, error;
};
using Rule = boost::math::quadrature::gauss_kronrod<double, 31>;

// Always the worst part is halved, until the sum of errors is `wanted` of the magnitude, or the worst part is
// 2^-30 of the whole (the logarithm where rods meet) or there are 400 parts: rounding, or wires that touch,
// then leave no better result.
template <class F>
Integral adaptive(const F& f, double begin, double end) {
  struct Part {
    double begin, end;
    Integral integral;
    bool operator<(const Part& other) const { return integral.error < other.integral.error; }
  };
  const auto part_of = [&](double from, double to) {
    Part part{from, to, {}};
    part.integral.value =
        Rule::integrate(f, from, to, 0, 0.0, &part.integral.error, &part.integral.magnitude);
    return part;
  };
  std::vector<Part> heap{part_of(begin, end)};
  for (;;) {
    Integral sum{0.0, 0.0, 0.0};
    for (const auto& part : heap)
      sum = {sum.value + part.integral.value, sum.magnitude + part.integral.magnitude,
             sum.error + part.integral.error};
    if (sum.error <= wanted * sum.magnitude || heap.size() >= 400) return sum;
    std::pop_heap(heap.begin(), heap.end());
    const Part worst = heap.back();
    if (worst.end - worst.begin < 0x1p-30 * (end - begin)) return sum;
    const double middle = 0.5 * (worst.begin + worst.end);
    heap.back() = part_of(worst.begin, middle);
    std::push_heap(heap.begin(), heap.end());
    heap.push_back(part_of(middle, worst.end));
    std::push_heap(heap.begin(), heap.end());
  }
}

template <class F>
Integral round_a_turn(const F& f) {
  constexpr int most_points = 2048;
  double sum = 0.0, magnitude = 0.0, previous = 0.0;
  const auto add = [&](double angle) {
    const double value = f(angle);
    sum += value;
    magnitude += std::fabs(value);
  };
  int points = 16;
  for (int i = 0; i < points; ++i) add(2.0 * pi * i / points);
  for (;;) {
    previous = sum / points;
    for (int i = 0; i < points; ++i) add(2.0 * pi * (i + 0.5) / points);
    points *= 2;
    const double change = std::fabs(sum / points - previous), size = magnitude / points;
    if (change <= wanted * size)
      return {2.0 * pi * sum / points, 2.0 * pi * size, 2.0 * pi * (change + 1e-15 * size)};
    if (points >= most_points) break;
  }
  return adaptive(f, 0.0, 2.0 * pi);
}

// A turn's centre line by the angle from `first`.
struct Circle {
  Vector3d centre, first, second;  // the latter two of the turn's radius

  Circle(const TurnPath& path, const Turn& turn)
      : centre(path.placement.centre() + turn.height * path.placement.axis()) {
    const Across frame = across(path.placement.axis());
    first = turn.radius * frame.first;
    second = turn.radius * frame.second;
  }
  Vector3d at(double angle) const { return centre + std::cos(angle) * first + std::sin(angle) * second; }
  Vector3d slope(double angle) const { return std::cos(angle) * second - std::sin(angle) * first; }
};

MutualInductance circulation(const ConductorPath& source, const TurnPath& round) {
  MutualInductance sum{0.0, 0.0};
  for (const auto& turn : round.turns) {
    const Circle circle(round, turn);
    const Integral part = round_a_turn(
        [&](double angle) { return vector_potential_of(source, circle.at(angle)).dot(circle.slope(angle)); });
    sum.value += turn.weight * part.value;
    sum.error += std::fabs(turn.weight) * part.error;
  }
  return sum;
}

MutualInductance circulation(const ConductorPath& source, const RodPath& round) {
  MutualInductance sum{0.0, 0.0};
  for (std::size_t i = 0; i < round.rods(); ++i) {
    const Vector3d begin = round.begin(i), step = round.end(i) - begin;
    const Integral part =
        adaptive([&](double t) { return vector_potential_of(source, begin + t * step).dot(step); }, 0.0, 1.0);
    sum.value += part.value;
    sum.error += part.error;
  }
  return sum;
}

// 1 for one rod run through in the same direction, -1 in the other, 0 for different rods.
int same_rod(const RodPath& first, std::size_t i, const RodPath& second, std::size_t j) {
  if (first.begin(i) == second.begin(j) && first.end(i) == second.end(j)) return 1;
  return first.begin(i) == second.end(j) && first.end(i) == second.begin(j) ? -1 : 0;
}

double largest_radius(const TurnPath& path) {
  double largest = 0.0;
  for (const auto& turn : path.turns) largest = std::fmax(largest, turn.radius);
  return largest;
}

// Whether some point of a line piece has distance(point) < limit, for a distance that changes no faster than
// the point moves: halves that cannot hold such a point are left out.
template <class Point, class Distance>
bool any_nearer(const Point& point, double begin, double end, double speed, const Distance& distance,
                double limit, double resolution) {
  const double middle = 0.5 * (begin + end), reach = 0.5 * (end - begin) * speed;
  const double here = distance(point(middle));
  if (here < limit) return true;
  if (here - reach >= limit || reach < resolution) return false;
  return any_nearer(point, begin, middle, speed, distance, limit, resolution) ||
         any_nearer(point, middle, end, speed, distance, limit, resolution);
}

template <class Distance>
bool any_nearer(const TurnPath& path, const Distance& distance, double limit, double resolution) {
  return std::any_of(path.turns.begin(), path.turns.end(), [&](const Turn& turn) {
    const Circle circle(path, turn);
    return any_nearer([&](double angle) { return circle.at(angle); }, 0.0, 2.0 * pi, turn.radius, distance,
                      limit, resolution);
  });
}

template <class Distance>
bool any_nearer(const RodPath& path, const Distance& distance, double limit, double resolution) {
  for (std::size_t i = 0; i < path.rods(); ++i) {
    const Vector3d begin = path.begin(i), step = path.end(i) - begin;
    if (any_nearer([&](double t) -> Vector3d { return begin + t * step; }, 0.0, 1.0, step.norm(), distance,
                   limit, resolution))
      return true;
  }
  return false;
}

}  // namespace

MutualInductance mutual_inductance(const ConductorPath& first, const ConductorPath& second) {
  const auto* turns = std::get_if<TurnPath>(&second);
  const auto* others = std::get_if<TurnPath>(&first);
  // Round turns rather than along rods, and round the smaller turns: fewer points.
  if (others && (!turns || largest_radius(*others) < largest_radius(*turns)))
    return circulation(second, *others);
  return std::visit([&](const auto& round) { return circulation(first, round); }, second);
}

double rod_inductance(const RodPath& first, const RodPath& second, double rod_radius) {
  double sum = 0.0;
  for (std::size_t i = 0; i < first.rods(); ++i) {
    const Vector3d rod = first.end(i) - first.begin(i);
    const double length = rod.norm();
    for (std::size_t j = 0; j < second.rods(); ++j) {
      if (const int sense = same_rod(first, i, second, j); sense != 0) {
        sum += sense * length * (std::log(2.0 * length / rod_radius) - 1.0);
        continue;
      }
      const Vector3d begin = second.begin(j), step = second.end(j) - begin;
      const double along = step.dot(rod) / length;
      if (std::fabs(along) < 1e-14 * step.norm()) continue;
      const auto potential = [&](double t) {
        return rod_potential(first.begin(i), first.end(i), begin + t * step);
      };
      sum += along * adaptive(potential, 0.0, 1.0).value;
    }
  }
  return mu_0 / (2.0 * pi) * sum;
}

double shared_length(const RodPath& first, const RodPath& second) {
  double sum = 0.0;
  for (std::size_t i = 0; i < first.rods(); ++i) {
    for (std::size_t j = 0; j < second.rods(); ++j)
      sum += same_rod(first, i, second, j) * (first.end(i) - first.begin(i)).norm();
  }
  return sum;
}

bool closer_than(const ConductorPath& first, const ConductorPath& second, double distance) {
  return std::visit(
      [&](const auto& path) {
        return any_nearer(
            path, [&](const Vector3d& p) { return distance_to(second, p); }, distance, 1e-3 * distance);
      },
      first);
}

bool enters(const ConductorPath& path, Reach cylinder) {
  // Signed distance to the cylinder's surface from outside; from inside, how deep.
  const auto outside = [&](const Vector3d& p) {
    return std::fmax(std::hypot(p.x(), p.y()) - cylinder.radius,
                     std::fmax(cylinder.low - p.z(), p.z() - cylinder.high));
  };
  const double resolution = 1e-6 * cylinder.radius;
  return std::visit([&](const auto& own) { return any_nearer(own, outside, -resolution, resolution); }, path);
}

}  // namespace driftglow::coil
