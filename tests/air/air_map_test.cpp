#include "models/air/air_map.hpp"

#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <random>

#include "models/air/turbulence.hpp"
#include "models/error.hpp"
#include "tests/air/designs.hpp"
#include "tests/outside.hpp"

using namespace driftglow;
using air::AirMap;
using air::Column;
using numeric::Vec3;

namespace {

// Uniform in the vessel's volume.
std::vector<Vec3<double>> places(const air::ColumnAir& design, int count, unsigned seed) {
  std::mt19937_64 generator(seed);
  std::uniform_real_distribution<double> unit(0.0, 1.0);
  std::vector<Vec3<double>> result;
  for (int i = 0; i < count; ++i) {
    const double r = design.radius * std::sqrt(unit(generator)), angle = 6.283185307179586 * unit(generator);
    result.push_back({r * std::cos(angle), r * std::sin(angle), design.height * unit(generator)});
  }
  return result;
}

Vec3<double> exact_velocity(const Column& column, const Vec3<double>& p) {
  const double r = std::hypot(p.x, p.y), c = p.x / r, s = p.y / r;
  const auto u = column.velocity(r, p.z);
  return {u.u_r * c - u.u_theta * s, u.u_r * s + u.u_theta * c, u.u_z};
}

// Columns: d/dx, d/dy, d/dz by a central difference of fourth order.
template <class F>
auto gradient(F f, Vec3<double> p, double h) {
  std::array<decltype(f(p)), 3> result;
  const Vec3<double> axes[3] = {{1.0, 0.0, 0.0}, {0.0, 1.0, 0.0}, {0.0, 0.0, 1.0}};
  for (int i = 0; i < 3; ++i) {
    const auto e = axes[i];
    result[i] =
        1.0 / (12.0 * h) * (8.0 * (f(p + h * e) - f(p - h * e)) - (f(p + 2.0 * h * e) - f(p - 2.0 * h * e)));
  }
  return result;
}

Vec3<double> curl(const std::array<Vec3<double>, 3>& d) {
  return {d[1].z - d[2].y, d[2].x - d[0].z, d[0].y - d[1].x};
}

double largest_speed(const Column& column) {
  double speed = 0.0;
  for (const auto& p : places(column.design(), 20000, 5)) {
    speed = std::fmax(speed, norm(exact_velocity(column, p)));
  }
  return speed;
}

}  // namespace

// Against the closed form, at places other than those the map was refined at. The map promises 1e-3 of the
// largest speed at its probes; a sharp edge of an opening may lie between them, hence a fifth more.
TEST_CASE("the map gives the closed form's air within its stated error") {
  const Outside outside("closed form of the column, model.md section 4");
  for (const auto& entry : test_designs()) {
    const auto& design = entry.second;
    CAPTURE(entry.first);
    const Column column(design);
    const AirMap map = air::map_of(column);
    CHECK(map.error().velocity <= 1e-3);
    const double speed = largest_speed(column);
    double error = 0.0, sigma_error = 0.0, sigma_most = 0.0, rate_error = 0.0, cbrt_error = 0.0;
    for (const auto& p : places(design, 20000, 11)) {
      const auto got = map.sample(p);
      const double r = std::hypot(p.x, p.y), k = column.kinetic_energy(r, p.z);
      error = std::fmax(error, norm(got.u_W - exact_velocity(column, p)));
      sigma_most = std::fmax(sigma_most, std::sqrt(2.0 * k / 3.0));
      sigma_error = std::fmax(sigma_error, std::fabs(got.sigma - std::sqrt(2.0 * k / 3.0)));
      const double epsilon = column.dissipation(r, p.z);
      rate_error = std::fmax(rate_error, std::fabs(got.inverse_lagrangian_time - epsilon / (0.2 * k)) /
                                             (5.0 * std::pow(0.09, 0.75) / column.length_scale()));
      cbrt_error = std::fmax(cbrt_error, std::fabs(got.epsilon_cbrt - std::cbrt(epsilon)) /
                                             std::cbrt(std::pow(0.09, 0.75) / column.length_scale()));
    }
    outside.below("velocity of the air map, largest error [m/s]", error, 1.2e-3 * speed);
    CHECK(sigma_error <= 1.2 * map.error().sigma * sigma_most + 1e-12);
    outside.below("turbulent deviation of the air map, largest error [m/s]", sigma_error, 5e-3 * sigma_most);
    // With one length scale both rates are sqrt(k) times a constant, so they are as good as sigma.
    CHECK(rate_error <= 1.5 * sigma_error + 1e-12);
    CHECK(cbrt_error <= 1.5 * sigma_error + 1e-12);
    MESSAGE(entry.first << ": " << map.s_nodes() << " x " << map.z_nodes() << " nodes, " << map.bytes() / 1024
                        << " KiB, velocity " << error / speed << ", sigma " << sigma_error / sigma_most);
  }
}

// Divergence, curl and gradient of the interpolated air by fourth-order central differences of sample()
// itself. Tolerance: steps of 2e-5 m round to 1e-11 and cross knots where the third derivative jumps.
TEST_CASE("the interpolated flow is free of divergence, its curl and gradient are its own") {
  const Outside outside("central differences of the map");
  for (const auto& entry : test_designs()) {
    const auto& design = entry.second;
    CAPTURE(entry.first);
    const AirMap map = air::map_of(Column(design));
    double divergence = 0.0, curl_error = 0.0, curl_most = 0.0, gradient_error = 0.0, gradient_most = 0.0;
    for (const auto& p : places(design, 2000, 23)) {
      const auto got = map.sample(p);
      const auto d = gradient([&](const Vec3<double>& q) { return map.sample(q).u_W; }, p, 2e-5);
      divergence = std::fmax(divergence, std::fabs(d[0].x + d[1].y + d[2].z));
      curl_error = std::fmax(curl_error, norm(curl(d) - got.curl_W));
      curl_most = std::fmax(curl_most, norm(got.curl_W));
      // Where sigma is cut off at zero within the reach of the difference it has no one gradient.
      if (got.sigma < 8e-5 * norm(got.grad_sigma_W)) continue;
      const auto s = gradient([&](const Vec3<double>& q) { return map.sample(q).sigma; }, p, 2e-5);
      gradient_error = std::fmax(gradient_error, norm(Vec3<double>{s[0], s[1], s[2]} - got.grad_sigma_W));
      gradient_most = std::fmax(gradient_most, norm(got.grad_sigma_W));
    }
    outside.below("divergence of the air map [1/s]", divergence, 1e-3 * curl_most);
    outside.below("curl of the air map, error [1/s]", curl_error, 1e-3 * curl_most);
    outside.below("gradient of sigma of the air map, error [1/s]", gradient_error, 1e-3 * gradient_most);
    CHECK(curl_most > 10.0);
    CHECK(gradient_most > 0.01);
  }
}

// The vorticity of the smooth plain design, against differences of the closed form. Second derivatives of a
// cubic spline converge by the square of the step; 2 % of the largest at the grid that was chosen.
TEST_CASE("the curl is that of the closed form") {
  const Outside outside("central differences of the closed form");
  const Column column(plain_design());
  const AirMap map = air::map_of(column);
  double error = 0.0, most = 0.0;
  for (const auto& p : places(plain_design(), 2000, 31)) {
    if (std::hypot(p.x, p.y) < 1e-3 || std::hypot(p.x, p.y) > 0.0945) continue;
    const auto exact =
        curl(gradient([&](const Vec3<double>& q) { return exact_velocity(column, q); }, p, 2e-4));
    error = std::fmax(error, norm(exact - map.sample(p).curl_W));
    most = std::fmax(most, norm(exact));
  }
  outside.below("curl of the air map against the column's, error [1/s]", error, 0.02 * most);
}

// No flow through the wall: chi is constant there, and a spline through constants is constant.
TEST_CASE("nothing leaks through the wall without vents") {
  const Outside outside("closed wall: no flow through it");
  const AirMap map = air::map_of(Column(plain_design()));
  for (double z = 0.0; z <= 0.32; z += 0.0031) {
    const auto got = map.sample(Vec3<double>{0.057, 0.076, z});  // r = 0.095
    outside.below("flow through the closed wall [m/s]", std::fabs(got.u_W.x * 0.6 + got.u_W.y * 0.8), 1e-11);
  }
}

// On the axis a symmetric flow has no direction across it; nothing may become NaN there.
TEST_CASE("the axis is an ordinary place") {
  const Outside outside("closed form of the column, model.md section 4");
  const auto design = plain_design();
  const Column column(design);
  const AirMap map = air::map_of(column);
  const auto got = map.sample(Vec3<double>{0.0, 0.0, 0.16});
  CHECK(got.u_W.x == 0.0);
  CHECK(got.u_W.y == 0.0);
  outside.matches("axial air on the axis [m/s]", got.u_W.z, column.velocity(0.0, 0.16).u_z, 2e-3);
  outside.matches("curl on the axis [1/s]", got.curl_W.z, 2.0 * column.turn_rate(0.0, 0.16), 2e-3);
  CHECK(got.grad_sigma_W.x == 0.0);
}

// A tracer keeps its stream function (model.md section 7.7): chi s of the map along a path of classical
// Runge-Kutta steps of 0.5 ms. The map conserves it exactly; the rest is the integrator's, far below 1e-5.
TEST_CASE("a tracer in the map keeps its stream function") {
  const auto design = plain_design();
  const Column column(design);
  const AirMap map = air::map_of(column);
  Vec3<double> p{0.02, 0.05, 0.05};
  const auto u = [&](const Vec3<double>& q) { return map.sample(q).u_W; };
  const auto psi = [&] { return column.stream_function(std::hypot(p.x, p.y), p.z); };
  const double before = psi();
  const double h = 5e-4;
  while (p.z < 0.3) {
    const auto a = u(p), b = u(p + 0.5 * h * a), c = u(p + 0.5 * h * b), d = u(p + h * c);
    p += h / 6.0 * (a + 2.0 * b + 2.0 * c + d);
    // The map's psi is the closed form's within its error, 1e-3 of the velocity, so about 1e-4 of psi.
    REQUIRE(std::fabs(psi() - before) < 2e-4 * before);
  }
}

// Still air with a floor of turbulence: uniform, no gradient; without it, no turbulence and no NaN.
TEST_CASE("still air") {
  const Outside outside("sigma = sqrt(2k/3), T_L = 0.2 k/epsilon, by hand");
  auto design = plain_design();
  design.flow = 0.0;
  design.swirl_speed = 0.0;
  design.turbulence_floor = 0.06;
  const AirMap map = air::map_of(Column(design));
  design.turbulence_floor = 0.0;
  const AirMap dead = air::map_of(Column(design));
  for (const auto& p : places(design, 200, 3)) {
    const auto got = map.sample(p);
    CHECK(norm(got.u_W) == 0.0);
    outside.matches("sigma of still turbulent air [m/s]", got.sigma, 0.2, 1e-12);
    CHECK(norm(got.grad_sigma_W) < 1e-11);
    // 0.09^0.75 sqrt(0.06)/(0.2 * 0.14 * 0.095 m)
    outside.matches("rate of memory of still turbulent air [1/s]", got.inverse_lagrangian_time,
                    0.164317 * 0.2449490 / (0.2 * 0.0133), 1e-5);
    const auto none = dead.sample(p);
    CHECK(none.sigma == 0.0);
    CHECK(none.inverse_lagrangian_time == 0.0);
    CHECK(none.epsilon_cbrt == 0.0);
    CHECK(norm(none.grad_sigma_W) == 0.0);
    CHECK(norm(none.curl_W) == 0.0);
  }
}

TEST_CASE("sigma and the rates are never negative, even where the air stands still") {
  auto design = plain_design();
  design.turbulence_floor = 0.0;
  design.circulation = 0.0;
  design.profile_exponent = 60.0;
  const AirMap map = air::map_of(Column(design));
  for (const auto& p : places(design, 20000, 7)) {
    const auto got = map.sample(p);
    REQUIRE(got.sigma >= 0.0);
    REQUIRE(got.inverse_lagrangian_time >= 0.0);
    REQUIRE(got.epsilon_cbrt >= 0.0);
  }
}

TEST_CASE("a map that runs out of nodes says what error it reached") {
  auto design = plain_design();
  design.lid_opening = air::LidOpening{0.0, 0.01};
  const AirMap map = air::map_of(Column(design), {1e-6, 2000});
  CHECK(map.s_nodes() * map.z_nodes() <= 2000);
  CHECK(map.error().velocity > 1e-6);
}
