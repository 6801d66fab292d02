#include "models/coupling/coupled_tags.hpp"

#include <cvode/cvode.h>
#include <doctest/doctest.h>
#include <nvector/nvector_serial.h>
#include <sundials/sundials_context.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>

#include <cmath>
#include <random>

#include "models/constants.hpp"
#include "models/error.hpp"
#include "tests/coupling/examples.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow;
using namespace driftglow::coupling;
using constant::pi;
using example::omega;
using Complex = std::complex<double>;

namespace {

std::vector<coil::FluxMoments> coils(int count) {
  return std::vector<coil::FluxMoments>(count, coil::flux_moments(example::receiver_coil().turns));
}

Eigen::MatrixXd pair(double M) {
  Eigen::MatrixXd mutual = Eigen::MatrixXd::Zero(2, 2);
  mutual(0, 1) = mutual(1, 0) = M;
  return mutual;
}

struct PairInTime {
  double mean_current[2];  // A
};

// Two coupled tags with their LEDs in time: EMFs E_i cos(theta + phase_i); CVODE, BDF. State, a tag: v, i_L,
// integral of the forward current; by theta.
PairInTime integrate_pair(const receiver::TankDesign& tank, double M, const double emf[2],
                          const double phase[2]) {
  struct Data {
    const receiver::TankDesign& tank;
    double M;
    const double *emf, *phase;
  } data{tank, M, emf, phase};
  const auto rates = [](double theta, N_Vector state, N_Vector rate, void* user) {
    const auto& d = *static_cast<Data*>(user);
    const double* y = N_VGetArrayPointer(state);
    double* r = N_VGetArrayPointer(rate);
    double drop[2];
    for (int i = 0; i < 2; ++i) {
      const double* own = y + 3 * i;
      const double led = d.tank.led.respond(own[0]).current;
      r[3 * i] =
          (own[1] - d.tank.loss_conductance(omega) * own[0] - led) / (omega * d.tank.total_capacitance());
      r[3 * i + 2] = std::fmax(led, 0.0);
      drop[i] = d.emf[i] * std::cos(theta + d.phase[i]) - own[0] - d.tank.resistance * own[1];
    }
    const double L = d.tank.inductance, determinant = omega * (L * L - d.M * d.M);
    r[1] = (L * drop[0] - d.M * drop[1]) / determinant;
    r[4] = (L * drop[1] - d.M * drop[0]) / determinant;
    return 0;
  };
  SUNContext context = nullptr;
  SUNContext_Create(nullptr, &context);
  N_Vector state = N_VNew_Serial(6, context);
  N_VConst(0.0, state);
  SUNMatrix matrix = SUNDenseMatrix(6, 6, context);
  SUNLinearSolver linear = SUNLinSol_Dense(state, matrix, context);
  void* solver = CVodeCreate(CV_BDF, context);
  REQUIRE(CVodeInit(solver, rates, 0.0, state) == 0);
  CVodeSStolerances(solver, 1e-8, 1e-11);
  CVodeSetUserData(solver, &data);
  CVodeSetLinearSolver(solver, linear, matrix);
  CVodeSetMaxNumSteps(solver, 10000000);
  const double period = 2.0 * pi, start = 80.0 * period;
  double theta = 0.0, *y = N_VGetArrayPointer(state);
  CVodeSetStopTime(solver, start);
  REQUIRE(CVode(solver, start, state, &theta, CV_NORMAL) >= 0);
  y[2] = y[5] = 0.0;
  CVodeReInit(solver, start, state);
  CVodeSetStopTime(solver, start + period);
  REQUIRE(CVode(solver, start + period, state, &theta, CV_NORMAL) >= 0);
  const PairInTime result{{y[2] / period, y[5] / period}};
  CVodeFree(&solver);
  SUNLinSolFree(linear);
  SUNMatDestroy(matrix);
  N_VDestroy(state);
  SUNContext_Free(&context);
  return result;
}

}  // namespace

// Closed form: the even and odd states of two equal resonators, I = e/(Z + j omega M) and e/(Z - j omega M).
TEST_CASE("two equal tags in their even and odd states") {
  const Outside outside("even and odd states of two equal resonators");
  CoupledTags tags(coils(2), omega, 1.0);
  const double M = 2e-6;
  tags.set_mutual(pair(M));
  const Complex Z(3.0, 1.2), X(0.0, omega * M);
  const std::vector<Complex> impedance{Z, Z};
  std::vector<Complex> seen(2);
  tags.solve(std::vector<Complex>{0.5, 0.5}, impedance, seen);
  for (const auto& e : seen) outside.near("EMF seen by two equal tags [V]", e, 0.5 * Z / (Z + X), 1e-14);
  tags.solve(std::vector<Complex>{0.5, -0.5}, impedance, seen);
  outside.near("EMF seen by two equal tags [V]", seen[0], 0.5 * Z / (Z - X), 1e-14);
  outside.below("EMF seen by two equal tags [V]", std::abs(seen[1] + 0.5 * Z / (Z - X)), 1e-14);
  CHECK(tags.strongest(impedance) == relative(omega * M / 3.0, 1e-12));
}

// Coupled resonators split to f0/sqrt(1 -+ k) (textbook, no loss): there the even and the odd current are
// largest.
TEST_CASE("resonances split") {
  const Outside outside("coupled resonators, f0/sqrt(1 +- k) (textbook)");
  const double L = 40e-6, C = 47e-9, k = 0.1, R = 0.05;
  const double f0 = 1.0 / (2.0 * pi * std::sqrt(L * C));
  for (const double sign : {1.0, -1.0}) {
    double best = 0.0, best_f = 0.0;
    for (int i = 0; i <= 4000; ++i) {
      const double f = f0 * (0.9 + 0.2 * i / 4000.0), w = 2.0 * pi * f;
      CoupledTags tags(coils(2), w, 1.0);
      tags.set_mutual(pair(k * L));
      const Complex Z(R, w * L - 1.0 / (w * C));
      std::vector<Complex> seen(2);
      tags.solve(std::vector<Complex>{1.0, sign}, std::vector<Complex>{Z, Z}, seen);
      const double current = std::abs(seen[0] / Z);
      if (current > best) {
        best = current;
        best_f = f;
      }
    }
    outside.matches("split resonances of two tags [Hz]", best_f, f0 / std::sqrt(1.0 + sign * k), 2e-4);
  }
}

// Conservation and reciprocity for a random crowd: the direct EMFs give what the resistances take; an EMF at
// tag i makes the same current at j as one at j makes at i.
TEST_CASE("power balance and reciprocity of a crowd") {
  const Outside outside("conservation of energy");
  constexpr int count = 24;
  CoupledTags tags(coils(count), omega, 1.0);
  std::mt19937_64 engine(23);
  std::uniform_real_distribution<double> uniform(0.0, 1.0);
  std::vector<Pose> poses;
  while (poses.size() < count) {
    const Pose pose{Eigen::Vector3d(0.12 * uniform(engine), 0.12 * uniform(engine), 0.15 * uniform(engine)),
                    example::direction(engine)};
    bool free = true;
    for (const auto& other : poses) free = free && (pose.centre - other.centre).norm() > 0.036;
    if (free) poses.push_back(pose);
  }
  tags.place(poses);
  std::vector<Complex> impedance, emf, seen(count);
  for (int i = 0; i < count; ++i) {
    impedance.emplace_back(2.0 + 3.0 * uniform(engine), 4.0 * (uniform(engine) - 0.5));
    emf.emplace_back(uniform(engine) - 0.5, uniform(engine) - 0.5);
  }
  tags.solve(emf, impedance, seen);
  double given = 0.0, taken = 0.0, moved = 0.0;
  for (int i = 0; i < count; ++i) {
    const Complex current = seen[i] / impedance[i];
    given += 0.5 * std::real(emf[i] * std::conj(current));
    taken += 0.5 * std::norm(current) * impedance[i].real();
    moved = std::max(moved, std::abs(seen[i] - emf[i]));
  }
  outside.matches("power of a crowd of coupled tags [W]", given, taken, 1e-12);
  CHECK(moved > 0.05);  // the crowd is dense: the check is not one of nothing
  MESSAGE("24 tags in 2.2 l: the EMF moves by up to ", moved, " V, strongest ", tags.strongest(impedance));
  const auto current = [&](int source, int at) {
    std::vector<Complex> one(count, 0.0), answer(count);
    one[source] = 1.0;
    tags.solve(one, impedance, answer);
    return answer[at] / impedance[at];
  };
  Outside("reciprocity")
      .near("reciprocity of a crowd of coupled tags [A]", current(3, 17), current(17, 3), 1e-14);
}

TEST_CASE("tags far apart, or beyond the reach, do not know of each other") {
  const std::vector<Pose> poses{{{0.0, 0.0, 0.0}, {0.0, 0.0, 1.0}},
                                {{0.0, 0.0, 0.5}, {0.0, 0.0, 1.0}},
                                {{0.5, 0.0, 0.0}, {1.0, 0.0, 0.0}}};
  const std::vector<Complex> impedance(3, Complex(3.13, 0.1)), emf{1.0, 0.3, Complex(0.0, 0.2)};
  std::vector<Complex> seen(3);
  CoupledTags tags(coils(3), omega, 10.0);
  tags.place(poses);
  tags.solve(emf, impedance, seen);
  for (int i = 0; i < 3; ++i) CHECK(std::abs(seen[i] - emf[i]) < 2e-3);
  CHECK(tags.mutual()(0, 1) > 0.0);
  CoupledTags cut(coils(3), omega, 0.4);
  cut.place(poses);
  cut.solve(emf, impedance, seen);
  for (int i = 0; i < 3; ++i) CHECK(std::abs(seen[i] - emf[i]) < 1e-15);
}

// Second route: both tags with their LEDs in time, at the coupling of touching tags and at three times that,
// in and out of phase, one strongly and one weakly driven. The mean LED currents follow the EMF seen
// within 1.5 % (harmonics left out); without the coupling they would be off by far more.
TEST_CASE("lit tags against integration in time") {
  const Outside outside("two coupled tags with LEDs in time (SUNDIALS CVODE)");
  const auto tank = example::tank();
  const auto curve = receiver::solve_glow_curve(tank, omega, 3.0);
  const TagImpedance table(curve, 1024);
  const std::vector<const TagImpedance*> tables{&table, &table};
  double largest_error = 0.0, largest_shift = 0.0;
  for (const double k : {0.02, -0.02, 0.06}) {
    for (const double second : {0.25, 0.6}) {
      for (const double angle : {0.0, 1.2, pi}) {
        CAPTURE(k);
        CAPTURE(second);
        CAPTURE(angle);
        const double emf[] = {0.8, second}, phase[] = {0.0, angle};
        CoupledTags tags(coils(2), omega, 1.0);
        tags.set_mutual(pair(k * tank.inductance));
        const std::vector<Complex> direct{emf[0], std::polar(emf[1], phase[1])};
        std::vector<Complex> seen = direct;
        const auto outcome = tags.settle(direct, tables, seen, 1e-6);
        CHECK(outcome.change <= 1e-6);
        const auto run = integrate_pair(tank, k * tank.inductance, emf, phase);
        for (int i = 0; i < 2; ++i) {
          const double expected = run.mean_current[i];
          outside.near("mean LED current of coupled tags [A]", curve.mean_current(std::abs(seen[i])),
                       expected, 0.015 * (1e-3 + std::fabs(expected)));
          if (expected < 1e-4) continue;
          largest_error =
              std::fmax(largest_error, std::fabs(curve.mean_current(std::abs(seen[i])) / expected - 1.0));
          largest_shift = std::fmax(largest_shift, std::fabs(curve.mean_current(emf[i]) / expected - 1.0));
        }
      }
    }
  }
  MESSAGE("largest error of a mean current above 0.1 mA ", largest_error, ", without coupling ",
          largest_shift);
  CHECK(largest_shift > 0.2);
}

TEST_CASE("coupled tags: faults") {
  CHECK_THROWS_AS(CoupledTags({}, omega, 1.0), LogicError);
  CHECK_THROWS_AS(CoupledTags(coils(2), 0.0, 1.0), LogicError);
  CoupledTags tags(coils(2), omega, 1.0);
  CHECK_THROWS_AS(tags.place(std::vector<Pose>(3)), LogicError);
  CHECK_THROWS_AS(tags.set_mutual(Eigen::MatrixXd::Zero(3, 3)), LogicError);
  std::vector<Complex> seen(2);
  CHECK_THROWS_AS(tags.solve(std::vector<Complex>(1), std::vector<Complex>(2), seen), LogicError);
}
