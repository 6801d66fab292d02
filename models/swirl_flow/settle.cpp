#include "models/swirl_flow/settle.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <sstream>

#include "models/error.hpp"

namespace driftglow::swirl_flow {
namespace {

constexpr int steering_interval = 20;  // iterations
constexpr int patience = 300;          // iterations in which the residual must fall by a third
constexpr double least_relaxation = 0.2;

[[noreturn]] void give_up(int iterations, double residual, double wanted) {
  std::ostringstream text;
  text << "the air did not settle: after " << iterations << " iterations its equations are met to "
       << residual << ", and " << wanted << " is wanted"
       << (residual <= wanted ? ", but fan and angular momentum are not in balance" : "")
       << "; expected a flow that is steady (less swirl, a wider vent, or a coarser detail may help)";
  throw InputError(text.str());
}

}  // namespace

Settled settle(FlowSolver& solver, const SettleControl& control, const std::function<bool()>& between) {
  double relaxation = control.relaxation, residual = 0.0;
  double best = std::numeric_limits<double>::infinity();
  double recent = best;  // smallest residual since the last check of progress
  bool steered = !between;
  for (int n = 1; n <= control.most_iterations; ++n) {
    residual = solver.iterate(relaxation);
    if (!std::isfinite(residual)) give_up(n, residual, control.tolerance);
    recent = std::min(recent, residual);
    if (between && n % steering_interval == 0) steered = between();
    if (residual <= control.tolerance && steered && n > 2) return {n, residual, relaxation};
    if (n % patience == 0) {
      if (recent > best / 1.5) relaxation = std::max(least_relaxation, 0.75 * relaxation);
      best = std::min(best, recent);
      recent = std::numeric_limits<double>::infinity();
    }
  }
  give_up(control.most_iterations, residual, control.tolerance);
}

}  // namespace driftglow::swirl_flow
