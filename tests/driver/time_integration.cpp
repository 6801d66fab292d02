#include "tests/driver/time_integration.hpp"

#include <cvode/cvode.h>
#include <nvector/nvector_serial.h>
#include <sundials/sundials_context.h>
#include <sunnonlinsol/sunnonlinsol_fixedpoint.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <stdexcept>
#include <vector>

#include "models/constants.hpp"

namespace driftglow::driver {
namespace {

using constant::pi;

using Rates = std::function<void(double, const double*, double*)>;

void require(int status) {
  if (status < 0) throw std::runtime_error("CVODE failed");
}

// A non-stiff system with roots; states of order one when `scale` is taken out.
class Integrator {
 public:
  Integrator(std::vector<double> start, const std::vector<double>& scale, Rates rates, Rates roots,
             int root_count)
      : rates_(std::move(rates)), roots_(std::move(roots)) {
    require(SUNContext_Create(nullptr, &context_));
    const auto n = static_cast<sunindextype>(start.size());
    state_ = N_VNew_Serial(n, context_);
    tolerance_ = N_VNew_Serial(n, context_);
    for (std::size_t i = 0; i < start.size(); ++i) {
      y()[i] = start[i];
      N_VGetArrayPointer(tolerance_)[i] = 1e-9 * scale[i];
    }
    solver_ = CVodeCreate(CV_ADAMS, context_);
    iteration_ = SUNNonlinSol_FixedPoint(state_, 0, context_);
    require(CVodeInit(
        solver_,
        [](double t, N_Vector at, N_Vector rate, void* self) {
          static_cast<Integrator*>(self)->rates_(t, N_VGetArrayPointer(at), N_VGetArrayPointer(rate));
          return 0;
        },
        0.0, state_));
    require(CVodeSVtolerances(solver_, 1e-9, tolerance_));
    require(CVodeSetUserData(solver_, this));
    require(CVodeSetNonlinearSolver(solver_, iteration_));
    require(CVodeSetMaxNumSteps(solver_, 1000000));
    if (root_count > 0)
      require(CVodeRootInit(solver_, root_count, [](double t, N_Vector at, double* out, void* self) {
        static_cast<Integrator*>(self)->roots_(t, N_VGetArrayPointer(at), out);
        return 0;
      }));
  }
  ~Integrator() {
    CVodeFree(&solver_);
    SUNNonlinSolFree(iteration_);
    N_VDestroy(state_);
    N_VDestroy(tolerance_);
    SUNContext_Free(&context_);
  }
  Integrator(const Integrator&) = delete;
  Integrator& operator=(const Integrator&) = delete;

  double* y() { return N_VGetArrayPointer(state_); }
  double t() const { return t_; }
  // Which roots were met on the way to `end`, if any.
  bool advance(double end, int* met) {
    require(CVodeSetStopTime(solver_, end));
    const int status = CVode(solver_, end, state_, &t_, CV_NORMAL);
    require(status);
    if (status != CV_ROOT_RETURN) return false;
    require(CVodeGetRootInfo(solver_, met));
    return true;
  }
  void restart() { require(CVodeReInit(solver_, t_, state_)); }

 private:
  Rates rates_, roots_;
  SUNContext context_ = nullptr;
  N_Vector state_, tolerance_;
  void* solver_;
  SUNNonlinearSolver iteration_;
  double t_ = 0.0;
};

}  // namespace

Swing integrate_push_pull(Chokes chokes, double supply, double L, double R, double C, double choke) {
  const bool two = chokes == Chokes::two;
  bool positive = true;
  // State: tank voltage v = v_b - v_a, coil current, choke currents (ends a and b, or the tap), charge drawn.
  // The end whose switch is open carries the tank voltage, the other is at ground. A choke at the centre tap
  // sees half the tank voltage, and half of its current acts on the whole tank.
  const auto tank_current = [&](const double* y) {
    return (two ? (positive ? y[3] : -y[2]) : (positive ? 0.5 : -0.5) * y[2]) - y[1];
  };
  const auto rates = [&](double, const double* y, double* d) {
    const double high = positive ? y[0] : -y[0];
    d[0] = tank_current(y) / C;
    d[1] = (y[0] - R * y[1]) / L;
    d[2] = (supply - (two ? (positive ? 0.0 : high) : 0.5 * high)) / choke;
    d[3] = two ? (supply - (positive ? high : 0.0)) / choke : 0.0;
    d[4] = y[2] + y[3];
  };
  const auto roots = [&](double, const double* y, double* out) {
    out[0] = y[0];
    out[1] = tank_current(y);
  };
  const double omega = 1.0 / std::sqrt(L * C), current = pi * supply / (omega * L);
  Integrator run({pi * supply, 0.0, 0.0, 0.0, 0.0}, {supply, current, current, current, current / omega},
                 rates, roots, 2);
  const double duration = 60.0 * 2.0 * L / R;
  double first = 0.0, last = 0.0, first_charge = 0.0, last_charge = 0.0, peak = 0.0;
  int crossings = 0, met[2];
  while (run.t() < duration) {
    if (!run.advance(duration, met)) break;
    const bool counted = run.t() > 0.8 * duration;
    if (counted && met[1] != 0) peak = std::fmax(peak, std::fabs(run.y()[0]));
    if (met[0] == 0) continue;
    positive = !positive;
    run.y()[0] = 0.0;
    run.restart();
    if (!counted) continue;
    if (crossings++ == 0) {
      first = run.t();
      first_charge = run.y()[4];
    }
    last = run.t();
    last_charge = run.y()[4];
  }
  if (crossings < 3) throw std::runtime_error("the push-pull does not swing");
  return {0.5 * (crossings - 1) / (last - first), peak, (last_charge - first_charge) / (last - first)};
}

SquareDrive integrate_square(double amplitude, double frequency, double L, double R, double C) {
  const double omega = 2.0 * pi * frequency, half = 0.5 / frequency;
  double voltage = amplitude;
  // State: current, capacitor voltage; integrals of i^2, v i, i sin, i cos.
  const auto rates = [&](double t, const double* y, double* d) {
    d[0] = (voltage - R * y[0] - y[1]) / L;
    d[1] = y[0] / C;
    d[2] = y[0] * y[0];
    d[3] = voltage * y[0];
    d[4] = y[0] * std::sin(omega * t);
    d[5] = y[0] * std::cos(omega * t);
  };
  const double current = amplitude / R;
  Integrator run({0.0, 0.0, 0.0, 0.0, 0.0, 0.0},
                 {current, current / (omega * C), current * current * half, current * amplitude * half,
                  current * half, current * half},
                 rates, {}, 0);
  const auto settle = static_cast<int>(std::ceil(25.0 * 2.0 * L / R / (2.0 * half)));
  SquareDrive result{};
  for (int n = 0; n < settle; ++n) {
    for (const double side : {1.0, -1.0}) {
      voltage = side * amplitude;
      run.restart();
      run.advance((2.0 * n + (side > 0.0 ? 1.0 : 2.0)) * half, nullptr);
    }
  }
  for (int i = 2; i < 6; ++i) run.y()[i] = 0.0;
  const double start = 2.0 * settle * half;
  constexpr int samples = 2000;
  for (int i = 1; i <= samples; ++i) {
    if (i == 1 || i == samples / 2 + 1) {
      voltage = i == 1 ? amplitude : -amplitude;
      run.restart();
    }
    run.advance(start + 2.0 * half * i / samples, nullptr);
    result.wave_peak = std::fmax(result.wave_peak, std::fabs(run.y()[0]));
    result.capacitor_peak = std::fmax(result.capacitor_peak, std::fabs(run.y()[1]));
    if (i == samples / 2) result.switched_current = run.y()[0];
  }
  const double period = 2.0 * half;
  result.wave_rms = std::sqrt(run.y()[2] / period);
  result.power = run.y()[3] / period;
  result.fundamental = 2.0 / period * std::hypot(run.y()[4], run.y()[5]);
  return result;
}

LoadedDrive integrate_with_tag(double amplitude, double frequency, double L, double R, double C, double M,
                               const receiver::TankDesign& tag) {
  const double omega = 2.0 * pi * frequency, period = 1.0 / frequency, G = tag.loss_conductance(omega);
  double voltage = amplitude;
  // State: drive current, capacitor voltage, tag's coil current, tag's node voltage; integrals of i sin, i
  // cos, of -M di/dt times the tag's current, of the LED's forward current.
  const auto rates = [&](double t, const double* y, double* d) {
    // L di + M dj = drop, M di + L2 dj = tag_drop
    const double drop = voltage - R * y[0] - y[1], tag_drop = -tag.resistance * y[2] - y[3];
    const double determinant = L * tag.inductance - M * M;
    const double led = tag.led.respond(y[3]).current;
    d[0] = (tag.inductance * drop - M * tag_drop) / determinant;
    d[1] = y[0] / C;
    d[2] = (L * tag_drop - M * drop) / determinant;
    d[3] = (y[2] - G * y[3] - led) / tag.total_capacitance();
    d[4] = y[0] * std::sin(omega * t);
    d[5] = y[0] * std::cos(omega * t);
    d[6] = -M * d[0] * y[2];
    d[7] = std::fmax(led, 0.0);
  };
  const double i = amplitude / R, j = omega * M * i / tag.resistance, v = omega * tag.inductance * j;
  Integrator run(std::vector<double>(8, 0.0),
                 {i, i * omega * L, j, v, i * period, i * period, omega * M * i * j * period, 1e-3 * period},
                 rates, {}, 0);
  const auto settle = static_cast<int>(std::ceil(25.0 * 2.0 * L / R / period));
  for (int n = 0; n <= settle; ++n) {
    if (n == settle) std::fill_n(run.y() + 4, 4, 0.0);
    for (const double side : {1.0, -1.0}) {
      voltage = side * amplitude;
      run.restart();
      run.advance((n + (side > 0.0 ? 0.5 : 1.0)) * period, nullptr);
    }
  }
  return {2.0 / period * std::hypot(run.y()[4], run.y()[5]), run.y()[6] / period, run.y()[7] / period};
}

}  // namespace driftglow::driver
