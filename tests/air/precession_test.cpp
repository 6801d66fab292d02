#include "models/air/precession.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow;
using namespace driftglow::air;
using numeric::Vec3;

namespace {

constexpr double radius = 0.095;
const Precession wandering{0.3, 8.0};

Vec3<double> velocity(const Vec3<double>& p, double time, Vec3<double>* curl = nullptr) {
  const Vec3<double> none{0.0, 0.0, 0.0};
  AirSample<double> air{none, none, 0.0, none, 0.0, 0.0};
  add_precession(wandering, radius, precession_turns(wandering, time), p, air);
  if (curl) *curl = air.curl_W;
  return air.u_W;
}

}  // namespace

TEST_CASE("on the axis it is the given speed at the given frequency, at the wall nothing") {
  const Outside outside("circle of the given speed");
  for (const double time : {-3.0, 0.0, 0.01, 0.3, 1234.567}) {
    const double angle = 2.0 * 3.14159265358979323846 * 8.0 * time;
    const auto u = velocity({0.0, 0.0, 0.1}, time);
    outside.near("velocity on the axis of a precessing core [m/s]", u.x, 0.3 * std::cos(angle), 1e-10);
    outside.near("velocity on the axis of a precessing core [m/s]", u.y, 0.3 * std::sin(angle), 1e-10);
    CHECK(u.z == 0.0);
    CHECK(norm(velocity({radius * std::cos(time), radius * std::sin(time), 0.1}, time)) < 1e-15);
  }
  CHECK(precession_frequency(0.8, 2.0, 0.19) == relative(1.6 / 0.19, 1e-15));
}

// Central differences, whose error is (h/R)^2.
TEST_CASE("it has no divergence, and the curl that it says") {
  const Outside outside("central differences");
  const double h = 1e-5;
  for (const Vec3<double> p : {Vec3<double>{0.01, 0.02, 0.1}, {-0.05, 0.03, 0.2}, {0.08, -0.04, 0.3}}) {
    Vec3<double> curl;
    velocity(p, 0.02, &curl);
    const auto east = velocity({p.x + h, p.y, p.z}, 0.02), west = velocity({p.x - h, p.y, p.z}, 0.02);
    const auto north = velocity({p.x, p.y + h, p.z}, 0.02), south = velocity({p.x, p.y - h, p.z}, 0.02);
    const double rate = 0.3 / radius;
    outside.below("divergence of the precession [1/s]",
                  std::fabs((east.x - west.x + north.y - south.y) / (2.0 * h)), 1e-6 * rate);
    outside.near("curl of the precession [1/s]", (east.y - west.y - north.x + south.x) / (2.0 * h), curl.z,
                 1e-6 * rate);
  }
}
