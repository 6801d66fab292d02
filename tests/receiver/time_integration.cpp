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

  double led_current(double voltage) const {
    if (voltage <= 0.3) {
      return design.led.respond(voltage).current;
    }
    const LedParameters& p = design.led.parameters();
    const double a = design.led.slope_voltage(), x = voltage / a;
    if (p.series_resistance == 0.0) {
      return p.saturation_current * std::expm1(x);
    }
    const double r = p.series_resistance * p.saturation_current / a;
    return a / p.series_resistance * boost::math::lambert_w0(r * std::exp(x + r)) - p.saturation_current;
  }
};

// State: v, i_L, integrals over theta of the forward LED current, of e i_L, and of e(theta - 90 degrees) i_L.
int rates(double theta, N_Vector state, N_Vector rate, void* data) {
  const auto& c = *static_cast<Circuit*>(data);
  const double* y = N_VGetArrayPointer(state);
  double* d = N_VGetArrayPointer(rate);
  const double e = c.emf_peak * std::cos(theta), led = c.led_current(y[0]);
  d[0] = (y[1] - c.design.loss_conductance(c.omega) * y[0] - led) / (c.omega * c.design.total_capacitance());
  d[1] = (e - y[0] - c.design.resistance * y[1]) / (c.omega * c.design.inductance);
  d[2] = std::fmax(led, 0.0);
  d[3] = e * y[1];
  d[4] = c.emf_peak * std::sin(theta) * y[1];
  return 0;
}

void require(int status) {
  if (status < 0) {
    throw std::runtime_error("CVODE failed");
  }
}

}  // namespace

OperatingPoint integrate_in_time(const TankDesign& design, double omega, double emf_peak) {
  Circuit circuit{design, omega, emf_peak};
  SUNContext context = nullptr;
  require(SUNContext_Create(nullptr, &context));
  N_Vector state = N_VNew_Serial(5, context), tolerance = N_VNew_Serial(5, context);
  N_VConst(0.0, state);
  const double current_scale = emf_peak * std::abs(linear_response(design, omega).current);
  double* t = N_VGetArrayPointer(tolerance);
  t[0] = 1e-9;
  t[1] = 1e-9 * current_scale;
  t[2] = 1e-14;
  t[3] = t[4] = 1e-9 * emf_peak * current_scale;
  void* solver = CVodeCreate(CV_BDF, context);
  SUNMatrix matrix = SUNDenseMatrix(5, 5, context);
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
  y[2] = y[3] = y[4] = 0.0;
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
  p.peak_current = circuit.led_current(p.forward_peak);
  CVodeFree(&solver);
  SUNLinSolFree(linear);
  SUNMatDestroy(matrix);
  N_VDestroy(state);
  N_VDestroy(tolerance);
  SUNContext_Free(&context);
  return p;
}

}  // namespace driftglow::receiver
