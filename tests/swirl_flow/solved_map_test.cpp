// First: qualified calls of the physics see only the packs declared above them.
// clang-format off
#include "models/numeric/pack_baseline.hpp"
// clang-format on

#include "models/swirl_flow/solved_map.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <random>
#include <vector>

#include "models/constants.hpp"
#include "models/error.hpp"
#include "models/motion/fluctuation.hpp"
#include "models/motion/tracer.hpp"
#include "models/numeric/elementary.hpp"
#include "models/swirl_flow/monotone.hpp"
#include "models/swirl_flow/settle.hpp"
#include "tests/outside.hpp"
#include "tests/swirl_flow/cases.hpp"
#include "tests/swirl_flow/vessels.hpp"

using namespace driftglow;
using namespace driftglow::swirl_flow;
using constant::pi;
using numeric::Vec3;

namespace {

const SolvedVessel& swirling() {
  static const SolvedVessel vessel =
      solve_vessel(test::swirling_vessel(0.35), test::some_fan(), Detail::quick);
  return vessel;
}
const air::AirMap& swirling_map() {
  static const air::AirMap map = map_of(swirling());
  return map;
}

// Three-point Gauss-Legendre: exact for the map's cubics within one of its cells.
constexpr double gauss_place[] = {-0.7745966692414834, 0.0, 0.7745966692414834};
constexpr double gauss_weight[] = {5.0 / 18.0, 8.0 / 18.0, 5.0 / 18.0};

double largest_speed(const air::AirMap& map) {
  double speed = 0.0;
  for (int i = 0; i <= 40; ++i) {
    for (int j = 0; j <= 100; ++j) {
      speed = std::fmax(
          speed, norm(map.sample(Vec3<double>{map.radius() * i / 40.0, 0.0, map.height() * j / 100.0}).u_W));
    }
  }
  return speed;
}

}  // namespace

// Fritsch & Butland's property, on data with a step and a peak: no value beyond its neighbours.
TEST_CASE("the interpolant neither overshoots nor turns between its nodes") {
  const std::vector<double> x{0.0, 1.0, 1.5, 3.0, 4.0, 4.2, 6.0}, y{0.0, 0.0, 1.0, 1.0, 5.0, 4.0, 4.0};
  for (std::size_t i = 0; i + 1 < x.size(); ++i) {
    double last = y[i];
    for (int k = 0; k <= 50; ++k) {
      const double value = monotone_resampled(x, y, {x[i] + (x[i + 1] - x[i]) * k / 50.0})[0];
      CHECK((value - last) * (y[i + 1] - y[i]) >= -1e-14);
      CHECK((value - y[i]) * (value - y[i + 1]) <= 1e-14);
      last = value;
    }
  }
}

// Net flow out of every cell of the map, by quadrature of the sampled velocity that is exact for its
// polynomials: 1e-12 Q/2 pi is the issue's.
TEST_CASE("the interpolated flow is free of divergence") {
  const Outside outside("continuity, exact quadrature");
  const auto& map = swirling_map();
  const double R = map.radius(), flow = swirling().operating_point.flow;
  const int s_cells = map.s_nodes() - 1, z_cells = map.z_nodes() - 1;
  const double ds = 1.0 / s_cells, dz = map.height() / z_cells;
  // Flow per radian up through a ring and out through a band; a hair inside so that each cell samples itself.
  const auto up = [&](int i, double z) {
    double sum = 0.0;
    for (int k = 0; k < 3; ++k) {
      const double s = ds * (i + 0.5 + 0.5 * gauss_place[k]);
      sum += gauss_weight[k] * 0.5 * R * R * ds * map.sample(Vec3<double>{R * std::sqrt(s), 0.0, z}).u_W.z;
    }
    return sum;
  };
  const auto out = [&](double s, int j) {
    double sum = 0.0;
    const double r = R * std::sqrt(s);
    for (int k = 0; k < 3; ++k) {
      const double z = dz * (j + 0.5 + 0.5 * gauss_place[k]);
      sum += gauss_weight[k] * r * dz * map.sample(Vec3<double>{r, 0.0, z}).u_W.x;
    }
    return sum;
  };
  double most = 0.0;
  for (int i = 0; i < s_cells; ++i) {
    for (int j = 0; j < z_cells; ++j) {
      most = std::fmax(
          most, std::fabs(up(i, dz * (j + 1)) - up(i, dz * j) + out(ds * (i + 1), j) - out(ds * i, j)));
    }
  }
  outside.below("net flow out of cells of the solved map [m3/s]", most, 1e-12 * flow / (2.0 * pi));
  MESSAGE("largest net flow of a cell " << most / (flow / (2.0 * pi)) << " Q/2 pi");
}

// Up to a cell of the map below the gap. Leak: the rounding of the spline's coefficients.
TEST_CASE("no flow through the closed wall and lid, and the solver's own in between") {
  const Outside outside("closed wall: no flow through it");
  const auto& map = swirling_map();
  const double R = map.radius(), H = map.height(), speed = largest_speed(map);
  const double closed = H - 0.02 - 2.0 * H / (map.z_nodes() - 1);
  double leak = 0.0;
  for (int k = 0; k <= 500; ++k) {
    leak = std::fmax(leak, std::fabs(map.sample(Vec3<double>{R, 0.0, closed * k / 500.0}).u_W.x));
    leak = std::fmax(leak, std::fabs(map.sample(Vec3<double>{R * k / 500.0, 0.0, H}).u_W.z));
  }
  outside.below("leak of the solved map [m/s]", leak, 1e-12 * speed);
  MESSAGE("leak " << leak / speed << " of the largest speed");
  // Flow within r at the solver's own corners; the map rounds the gap's edge over a cell of its own, 2 mm of
  // the 20 mm gap, where a twentieth of the flow might pass: measured 0.010 Q/2 pi.
  const auto& flow = swirling().flow_case;
  double off = 0.0;
  for (int i = 0; i <= flow.r_cells(); ++i) {
    for (int j = 0; j <= flow.z_cells(); ++j) {
      if (flow.z_faces[j] < 0.0) continue;
      const double psi = map.stream_function({flow.r_faces[i], 0.0, flow.z_faces[j]});
      off = std::fmax(off, std::fabs(psi - swirling().stream_function(i, j)));
    }
  }
  CHECK(off < 0.02 * swirling().operating_point.flow / (2.0 * pi));
  MESSAGE("stream function off by " << off / (swirling().operating_point.flow / (2.0 * pi)) << " Q/2 pi");
  CHECK(map.error().velocity < 0.015);  // below the solver's own grid error, see GridError
  CHECK(map.error().sigma < 0.015);
}

// Central differences of sample() itself.
TEST_CASE("curl and gradient are the interpolant's own") {
  const Outside outside("central differences of the map");
  const auto& map = swirling_map();
  const double h = 1e-6;
  for (const int i : {0, 3, 40, 80}) {
    for (const int j : {2, 50, 100}) {
      const double s = (i + 0.4) / (map.s_nodes() - 1), r = map.radius() * std::sqrt(s), angle = 0.7 + i;
      const Vec3<double> p{r * std::cos(angle), r * std::sin(angle),
                           map.height() * (j + 0.6) / (map.z_nodes() - 1)};
      const Vec3<double> axes[] = {{h, 0.0, 0.0}, {0.0, h, 0.0}, {0.0, 0.0, h}};
      Vec3<double> d[3];
      double slope[3];
      for (int k = 0; k < 3; ++k) {
        const auto high = map.sample(p + axes[k]), low = map.sample(p - axes[k]);
        d[k] = 0.5 / h * (high.u_W - low.u_W);
        slope[k] = 0.5 / h * (high.sigma - low.sigma);
      }
      const auto got = map.sample(p);
      const double size = norm(got.curl_W) + 1.0;
      outside.below("divergence of the solved map [1/s]", std::fabs(d[0].x + d[1].y + d[2].z), 1e-6 * size);
      outside.below("curl of the solved map, error [1/s]",
                    norm(Vec3<double>{d[1].z - d[2].y, d[2].x - d[0].z, d[0].y - d[1].x} - got.curl_W),
                    1e-5 * size);
      outside.below("gradient of sigma of the solved map, error [1/s]",
                    norm(Vec3<double>{slope[0], slope[1], slope[2]} - got.grad_sigma_W), 1e-5 * size);
    }
  }
}

// The axis is no special place: velocity and curl there are the limits of those beside it.
TEST_CASE("the axis is regular") {
  const auto& map = swirling_map();
  for (const double z : {0.0, 0.1, 0.2, 0.32}) {
    const auto on = map.sample(Vec3<double>{0.0, 0.0, z}), beside = map.sample(Vec3<double>{1e-7, 0.0, z});
    CHECK(on.u_W.x == 0.0);
    CHECK(on.u_W.y == 0.0);
    CHECK(norm(on.u_W - beside.u_W) < 1e-4);
    CHECK(norm(on.curl_W - beside.curl_W) < 1e-2);
  }
}

// The flight's packs read the same table in single precision: 24 bits and a second derivative's share of
// cancellation, which the fixed-point chi keeps small.
TEST_CASE("lanes sample the solved air as the scalar does") {
  using numeric::Pack;
  const auto& map = swirling_map();
  const double speed = largest_speed(map);
  double off = 0.0, curl_off = 0.0, curl = 0.0;
  for (int n = 0; n < 4000; ++n) {
    alignas(16) float x[4], y[4], z[4], u[3][4], c[3][4];
    for (int l = 0; l < 4; ++l) {
      const double s = std::fmod(0.754877666 * (4 * n + l), 1.0), angle = n + l;
      const double r = n == 0 ? 0.0 : map.radius() * std::sqrt(s);
      x[l] = float(r * std::cos(angle)), y[l] = float(r * std::sin(angle));
      z[l] = float(map.height() * std::fmod(0.569840291 * (4 * n + l), 1.0));
    }
    const auto got =
        map.sample(Vec3<Pack>{numeric::load<Pack>(x), numeric::load<Pack>(y), numeric::load<Pack>(z)});
    numeric::store(u[0], got.u_W.x), numeric::store(u[1], got.u_W.y), numeric::store(u[2], got.u_W.z);
    numeric::store(c[0], got.curl_W.x), numeric::store(c[1], got.curl_W.y),
        numeric::store(c[2], got.curl_W.z);
    for (int l = 0; l < 4; ++l) {
      const auto want = map.sample(Vec3<double>{x[l], y[l], z[l]});
      off = std::fmax(off, norm(Vec3<double>{u[0][l], u[1][l], u[2][l]} - want.u_W));
      curl_off = std::fmax(curl_off, norm(Vec3<double>{c[0][l], c[1][l], c[2][l]} - want.curl_W));
      curl = std::fmax(curl, norm(want.curl_W));
    }
  }
  MESSAGE("lanes off by " << off / speed << " of the speed, " << curl_off / curl << " of the curl");
  CHECK(off < 1e-5 * speed);
  CHECK(curl_off < 1e-4 * curl);
}

// A particle of air without turbulence stays on its stream surface: Runge-Kutta of fourth order, 1 ms steps.
TEST_CASE("a tracer keeps its stream function") {
  const Outside outside("stream surfaces, Runge-Kutta steps");
  const auto& map = swirling_map();
  const double whole = swirling().operating_point.flow / (2.0 * pi);
  double most = 0.0;
  for (const double share : {0.2, 0.5, 0.8}) {
    Vec3<double> p{share * map.radius(), 0.0, 0.02};
    const double psi = map.stream_function(p), dt = 1e-3;
    const auto u = [&](const Vec3<double>& q) { return map.sample(q).u_W; };
    for (int n = 0; n < 2000 && p.z < 0.29 && p.z > 0.005; ++n) {
      const auto a = u(p), b = u(p + 0.5 * dt * a), c = u(p + 0.5 * dt * b), d = u(p + dt * c);
      p += dt / 6.0 * (a + 2.0 * b + 2.0 * c + d);
      most = std::fmax(most, std::fabs(map.stream_function(p) - psi));
    }
  }
  outside.below("stream function of a tracer in solved air [m3/s]", most, 1e-4 * whole);
  MESSAGE("stream function drifts by " << most / whole << " Q/2 pi");
}

namespace {

// Turbulent air in a closed vessel, its wall's radius changing by `slope` a height, under a lid that turns at
// 30 rad/s: every surface reflects tracers.
air::AirMap closed_vessel_map(double slope) {
  auto flow = test::walled(test::even_faces(0.0, 0.095, 14), test::even_faces(0.0, 0.2, 28), 1.5e-5);
  flow.turbulence = Turbulence::k_epsilon;
  for (auto& b : flow.top) b.angular_velocity = 30.0;
  if (slope != 0.0)
    for (const double z : flow.z_faces) flow.widening.push_back(1.0 + slope * z / 0.095);
  FlowSolver solver(flow);
  auto field = solver.field();
  field.kinetic_energy.setConstant(0.05), field.dissipation.setConstant(0.5);
  solver.set_field(field);
  settle(solver, {1e-6, 10000, 0.7});
  SolvedVessel vessel{};
  vessel.flow_case = flow, vessel.field = solver.field(), vessel.stream_function = solver.stream_function();
  return map_of(vessel, {64, 64});
}

// chi-square of tracers in 10 x 10 bins of equal volume, evenly placed at first, after 0.6 s.
double chi_square(const air::AirMap& map, double drift) {
  std::mt19937_64 engine(20261125);
  const auto uniform = [&] { return (static_cast<double>(engine() >> 11) + 0.5) * 0x1p-53; };
  const auto normals = [&] {
    const auto a = numeric::normal_pair(uniform(), uniform());
    const auto b = numeric::normal_pair(uniform(), uniform());
    return Vec3<double>{a.first, a.second, b.first};
  };
  const int tracers = 10000, steps = 600;
  const double R = map.radius(), H = map.height(), dt = 1e-3, slope = map.slope();
  const double top = map.radius_at(H), widest = std::fmax(R, top);
  const auto drawn = [&] {
    while (true) {
      const double r = widest * std::sqrt(uniform()), angle = 2.0 * pi * uniform(), z = H * uniform();
      if (r <= map.radius_at(z)) return Vec3<double>{r * std::cos(angle), r * std::sin(angle), z};
    }
  };
  std::vector<int> bins(100, 0);
  for (int n = 0; n < tracers; ++n) {
    Vec3<double> p = drawn(), w = normals(), v{0.0, 0.0, 0.0};
    for (int k = 0; k < steps; ++k) {
      const auto here = map.sample(p);
      const auto middle = map.sample(p + 0.5 * dt * (here.u_W + here.sigma * w));
      const auto next = motion::advance_fluctuation(w, drift * middle.grad_sigma_W,
                                                    middle.inverse_lagrangian_time, dt, normals());
      p += dt * (middle.u_W + 0.5 * middle.sigma * (w + next));
      w = next;
      slope == 0.0 ? motion::reflect(R, 0.0, H, p, v, w)
                   : motion::reflect<air::WallShape::tapered>(R, 0.0, H, p, v, w, slope);
    }
    // Of equal volume: even in (r/R)^2, and in the share of the volume below.
    const double here = map.radius_at(p.z);
    const double below =
        slope == 0.0 ? p.z / H : (std::pow(here, 3) - std::pow(R, 3)) / (std::pow(top, 3) - std::pow(R, 3));
    const int i = static_cast<int>(10.0 * (p.x * p.x + p.y * p.y) / (here * here)),
              j = static_cast<int>(10.0 * below);
    ++bins[std::min(i, 9) * 10 + std::min(j, 9)];
  }
  double sum = 0.0;
  for (const int count : bins) sum += std::pow(count - tracers / 100.0, 2) / (tracers / 100.0);
  return sum;
}

}  // namespace

// 99.9 % point of chi-square with 99 degrees of freedom: 148.2 (table). The same limit
// rejects tracers without Thomson's drift, which gather where it is calm.
TEST_CASE("well-mixed tracers stay well mixed in the solved air") {
  const Outside outside("chi-square, 99.9 % point of 99 degrees of freedom (table)");
  const auto map = closed_vessel_map(0.0);
  const double with = chi_square(map, 1.0), without = chi_square(map, 0.0);
  outside.below("chi-square of tracers in solved air", with, 148.2);
  CHECK(without > 148.2);
  outside.below("chi-square of tracers in a cone's solved air", chi_square(closed_vessel_map(-0.12), 1.0),
                148.2);
  MESSAGE("chi-square " << with << ", without drift " << without << ", largest speed " << largest_speed(map));
}
