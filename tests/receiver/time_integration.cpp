#include "tests/receiver/time_integration.hpp"

#include <cvode/cvode.h>
#include <nvector/nvector_serial.h>
#include <sundials/sundials_context.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>

#include <algorithm>
#include <boost/math/special_functions/lambert_w.hpp>
#include <cmath>
#include <stdexcept>

#include "models/constants.hpp"

namespace driftglow::receiver {

namespace {

struct Circuit {
  const TankDesign& design;
  double omega, emf_peak;

  static double led_current(const LedLaw& led, double voltage) {
    if (voltage <= 0.3) {
      return led.respond(voltage).current;
    }
    const LedParameters& p = led.parameters();
    const double a = led.slope_voltage(), x = voltage / a;
    if (p.series_resistance == 0.0) {
      return p.saturation_current * std::expm1(x);
    }
    const double r = p.series_resistance * p.saturation_current / a;
    return a / p.series_resistance * boost::math::lambert_w0(r * std::exp(x + r)) - p.saturation_current;
  }

  double first(double voltage) const { return led_current(design.led, voltage); }
  double second(double voltage) const {
    return design.antiparallel ? led_current(*design.antiparallel, -voltage) : 0.0;
  }
};

// State: v, i_L, integrals over theta of the forward LED current, of e i_L, of e(theta - 90 degrees) i_L, of
// the second LED's forward current, and of the heat of coil and capacitor and the LEDs' power.
constexpr int states = 9;

int rates(double theta, N_Vector state, N_Vector rate, void* data) {
  const auto& c = *static_cast<Circuit*>(data);
  const double* y = N_VGetArrayPointer(state);
  double* d = N_VGetArrayPointer(rate);
  const double e = c.emf_peak * std::cos(theta), led = c.first(y[0]), other = c.second(y[0]);
  d[0] = (y[1] - c.design.loss_conductance(c.omega) * y[0] - led + other) /
         (c.omega * c.design.total_capacitance());
  d[1] = (e - y[0] - c.design.resistance * y[1]) / (c.omega * c.design.inductance);
  d[2] = std::fmax(led, 0.0);
  d[3] = e * y[1];
  d[4] = c.emf_peak * std::sin(theta) * y[1];
  d[5] = std::fmax(other, 0.0);
  d[6] = c.design.resistance * y[1] * y[1];
  d[7] = c.design.loss_conductance(c.omega) * y[0] * y[0];
  d[8] = y[0] * (led - other);
  return 0;
}

void require(int status) {
  if (status < 0) {
    throw std::runtime_error("CVODE failed");
  }
}

}  // namespace

double largest_difference(const OperatingPoint& got, const OperatingPoint& reference) {
  const auto relative = [&](double OperatingPoint::*member, double least) {
    return std::fabs(got.*member - reference.*member) / std::fmax(std::fabs(reference.*member), least);
  };
  const double apparent = std::hypot(reference.real_power, reference.reactive_power);
  return std::max({relative(&OperatingPoint::mean_current, 1e-9),
                   relative(&OperatingPoint::mean_current_antiparallel, 1e-9),
                   relative(&OperatingPoint::peak_current, 1e-8),
                   relative(&OperatingPoint::peak_current_antiparallel, 1e-8),
                   relative(&OperatingPoint::forward_peak, 0.0), relative(&OperatingPoint::reverse_peak, 0.0),
                   relative(&OperatingPoint::real_power, 0.0),
                   relative(&OperatingPoint::coil_loss, 0.1 * reference.real_power),
                   relative(&OperatingPoint::capacitor_loss, 0.1 * reference.real_power),
                   relative(&OperatingPoint::led_power, 0.1 * reference.real_power),
                   relative(&OperatingPoint::reactive_power, apparent)});
}

OperatingPoint integrate_in_time(const TankDesign& design, double omega, double emf_peak) {
  Circuit circuit{design, omega, emf_peak};
  SUNContext context = nullptr;
  require(SUNContext_Create(nullptr, &context));
  N_Vector state = N_VNew_Serial(states, context), tolerance = N_VNew_Serial(states, context);
  N_VConst(0.0, state);
  const double current_scale = emf_peak * std::abs(linear_response(design, omega).current);
  double* t = N_VGetArrayPointer(tolerance);
  t[0] = 1e-9;
  t[1] = 1e-9 * current_scale;
  t[2] = t[5] = 1e-14;
  t[3] = t[4] = t[6] = t[7] = t[8] = 1e-9 * emf_peak * current_scale;
  void* solver = CVodeCreate(CV_BDF, context);
  SUNMatrix matrix = SUNDenseMatrix(states, states, context);
  SUNLinearSolver linear = SUNLinSol_Dense(state, matrix, context);
  require(CVodeInit(solver, rates, 0.0, state));
  require(CVodeSVtolerances(solver, 1e-9, tolerance));
  require(CVodeSetUserData(solver, &circuit));
  require(CVodeSetLinearSolver(solver, linear, matrix));
  require(CVodeSetMaxNumSteps(solver, 10000000));

  const double period = 2.0 * constant::pi;
  const double start = period * std::ceil(16.0 * 2.0 * quality_factor(design, omega) / period);
  double theta = 0.0;
  double* y = N_VGetArrayPointer(state);
  require(CVodeSetStopTime(solver, start));
  require(CVode(solver, start, state, &theta, CV_NORMAL));
  // The integrals begin here: what they have collected is dropped.
  std::fill(y + 2, y + states, 0.0);
  require(CVodeReInit(solver, start, state));
  OperatingPoint p{};
  p.emf_peak = emf_peak;
  // Peaks from samples 0.06 degrees apart: (5e-4)^2 of the curvature is lost, below 1e-5.
  constexpr int samples = 6000;
  for (int n = 1; n <= samples; ++n) {
    const double next = start + period * n / samples;
    require(CVodeSetStopTime(solver, next));
    require(CVode(solver, next, state, &theta, CV_NORMAL));
    p.forward_peak = std::fmax(p.forward_peak, y[0]);
    p.reverse_peak = std::fmax(p.reverse_peak, -y[0]);
  }
  p.mean_current = y[2] / period;
  p.real_power = y[3] / period;
  p.reactive_power = y[4] / period;
  p.peak_current = circuit.first(p.forward_peak);
  p.mean_current_antiparallel = y[5] / period;
  p.coil_loss = y[6] / period;
  p.capacitor_loss = y[7] / period;
  p.led_power = y[8] / period;
  p.peak_current_antiparallel = circuit.second(-p.reverse_peak);
  CVodeFree(&solver);
  SUNLinSolFree(linear);
  SUNMatDestroy(matrix);
  N_VDestroy(state);
  N_VDestroy(tolerance);
  SUNContext_Free(&context);
  return p;
}

}  // namespace driftglow::receiver
