#pragma once

#include <cmath>

#include "models/air/air_map.hpp"
#include "models/numeric/elementary.hpp"

namespace driftglow::air {

// Slow, large-scale unsteadiness: the core of a swirling flow goes round the axis.
struct Precession {
  double speed;      // m/s, A >= 0: transverse speed on the axis
  double frequency;  // Hz, counter-clockwise from above where > 0
};

// Frequency [Hz] of a core's precession from its Strouhal number St = f D/U; U [m/s] is the mean axial speed
// in the vessel of diameter D [m]. Cassidy & Falvey 1970 [cassidy1970, memory]: pi/4 f D^3/Q = f D/U about 1
// for strongly swirled flow in a tube; Syred 2006 [syred2006, memory]: 0.4 to 1.2, rising with swirl. Second
// route: a core of radius D/4 that turns as a whole with u_theta = U at its edge makes 4/(2 pi) = 0.64 U/D
// turns a second.
inline double precession_frequency(double strouhal_number, double mean_speed, double diameter) {
  return strouhal_number * mean_speed / diameter;
}
inline constexpr double usual_strouhal_number = 0.8;

// Turns of the transverse velocity since time 0 [s], without whole ones.
inline double precession_turns(const Precession& precession, double time) {
  const double turns = precession.frequency * time;
  return turns - std::floor(turns);
}

// Adds the precession to the air at p_W [m], `turns` from precession_turns():
//   u = curl(e_z psi), psi = A (1 - s)^2 (y cos a - x sin a), a = 2 pi turns, s = (r/R)^2:
// A (cos a, sin a) on the axis, nothing at the wall, no u_z: divergence-free and tight, so that well-mixed
// tags stay so. curl_z = 4 A/R^2 (4 - 6 s) (y cos a - x sin a). Neglected: that a real core leans (the same
// phase at all heights here), its u_z, and what it takes from the mean flow.
template <class T>
void add_precession(const Precession& precession, double radius, double turns, const numeric::Vec3<T>& p_W,
                    AirSample<T>& air) {
  const auto angle = numeric::sine_cosine_of_turns(T(turns));
  const T per_area(1.0 / (radius * radius)), speed(precession.speed), one(1.0);
  const T inside = one - numeric::minimum((p_W.x * p_W.x + p_W.y * p_W.y) * per_area, one);  // 1 - s
  const T across = p_W.y * angle.cosine - p_W.x * angle.sine;
  const T turning = T(4.0) * per_area * speed * across;
  air.u_W.x = air.u_W.x + speed * inside * inside * angle.cosine - turning * inside * p_W.y;
  air.u_W.y = air.u_W.y + speed * inside * inside * angle.sine + turning * inside * p_W.x;
  air.curl_W.z = air.curl_W.z + turning * (T(6.0) * inside - T(2.0));
}

}  // namespace driftglow::air
