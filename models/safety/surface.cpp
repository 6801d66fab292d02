#include "models/safety/surface.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "models/constants.hpp"
#include "models/error.hpp"

namespace driftglow::safety {
namespace {

using constant::pi;

void require(bool good, const char* sentence) {
  if (!good) throw LogicError(sentence);
}

// The surface by the length along its meridian, from the lower to the upper pole, and the azimuth.
class ParallelSurface {
 public:
  ParallelSurface(const Enclosure& enclosure, double distance)
      : enclosure_(enclosure), distance_(distance), edge_(0.5 * pi * distance) {}

  double length() const { return 2.0 * (enclosure_.radius + edge_) + enclosure_.high - enclosure_.low; }

  // Distance from the axis and height.
  std::pair<double, double> meridian(double s) const {
    const double R = enclosure_.radius, height = enclosure_.high - enclosure_.low;
    if (s <= R) return {s, enclosure_.low - distance_};
    s -= R;
    if (s <= edge_) {
      const double angle = s / distance_;
      return {R + distance_ * std::sin(angle), enclosure_.low - distance_ * std::cos(angle)};
    }
    s -= edge_;
    if (s <= height) return {R + distance_, enclosure_.low + s};
    s -= height;
    if (s <= edge_) {
      const double angle = s / distance_;
      return {R + distance_ * std::cos(angle), enclosure_.high + distance_ * std::sin(angle)};
    }
    return {std::max(0.0, R - (s - edge_)), enclosure_.high + distance_};
  }

  Eigen::Vector3d place(double s, double azimuth) const {
    const auto [r, z] = meridian(s);
    return {r * std::cos(azimuth), r * std::sin(azimuth), z};
  }

 private:
  Enclosure enclosure_;
  double distance_, edge_;
};

struct Sample {
  double value, s, azimuth;
};

constexpr std::size_t starts = 16;

// Keeps the best samples in descending order.
void offer(std::vector<Sample>& best, const Sample& sample) {
  const auto at = std::upper_bound(best.begin(), best.end(), sample,
                                   [](const Sample& a, const Sample& b) { return a.value > b.value; });
  if (at == best.end() && best.size() >= starts) return;
  best.insert(at, sample);
  if (best.size() > starts) best.pop_back();
}

}  // namespace

SurfacePeak largest_at_distance(const OutsideField& field, const Enclosure& enclosure, double distance) {
  require(enclosure.radius > 0.0 && enclosure.low < enclosure.high, "exposure: the enclosure is empty");
  require(distance > 0.0 && std::isfinite(distance), "exposure: the distance is not positive");
  const ParallelSurface surface(enclosure, distance);
  const auto look = [&](double s, double azimuth) {
    const double value = field.flux_density_rms(surface.place(s, azimuth));
    require(value >= 0.0 && std::isfinite(value), "exposure: a flux density is not 0 or more");
    return Sample{value, s, azimuth};
  };
  const double spacing = 0.5 * distance, length = surface.length();
  const int along = static_cast<int>(std::ceil(length / spacing));
  std::vector<Sample> best;
  for (int i = 0; i <= along; ++i) {
    const double s = length * i / along;
    const double around = 2.0 * pi * surface.meridian(s).first;
    const int azimuths =
        field.symmetry == Symmetry::axial ? 1 : std::max(1, static_cast<int>(std::ceil(around / spacing)));
    for (int j = 0; j < azimuths; ++j) offer(best, look(s, 2.0 * pi * j / azimuths));
  }
  Sample top = best.front();
  for (Sample at : best) {
    for (double step = spacing; step > 1e-3 * distance;) {
      const double r = std::max(surface.meridian(at.s).first, 0.1 * distance);
      Sample next = at;
      const auto attempt = [&](double s, double azimuth) {
        const Sample trial = look(std::clamp(s, 0.0, length), azimuth);
        if (trial.value > next.value) next = trial;
      };
      for (const double side : {-step, step}) {
        attempt(at.s + side, at.azimuth);
        if (field.symmetry == Symmetry::none) attempt(at.s, at.azimuth + side / r);
      }
      if (next.value > at.value) {
        at = next;
      } else {
        step *= 0.5;
      }
    }
    if (at.value > top.value) top = at;
  }
  return {top.value, surface.place(top.s, top.azimuth)};
}

std::optional<double> distance_below(const OutsideField& field, const Enclosure& enclosure, double level,
                                     double nearest, double farthest) {
  require(level > 0.0, "exposure: the level is not positive");
  require(nearest > 0.0 && farthest > nearest, "exposure: the range of distances is empty");
  const auto above = [&](double distance) {
    return largest_at_distance(field, enclosure, distance).flux_density_rms > level;
  };
  if (above(farthest)) return std::nullopt;
  std::vector<double> scan;
  for (double distance = nearest; distance < farthest; distance *= 2.0) scan.push_back(distance);
  scan.push_back(farthest);
  std::size_t low_index = scan.size() - 1;
  do {
    if (low_index == 0) return nearest;
    --low_index;
  } while (!above(scan[low_index]));
  double low = scan[low_index], high = scan[low_index + 1];
  while (high > 1.001 * low) {
    const double middle = std::sqrt(low * high);
    (above(middle) ? low : high) = middle;
  }
  return high;
}

}  // namespace driftglow::safety
