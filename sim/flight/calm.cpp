#include "sim/flight/calm.hpp"

#include <cmath>

#include "models/motion/advance.hpp"
#include "models/motion/contact.hpp"

namespace driftglow::flight {
namespace {

using numeric::Vec3;
using State = motion::TagState<double>;

constexpr Vec3<double> none{0.0, 0.0, 0.0};

template <motion::DragLaw law, motion::WallLift lift, air::WallShape shape>
void fly_alone(const Plan& plan, const DesignPlan& design, const motion::Enclosure& vessel,
               const air::AirMap& map, std::int64_t steps, State& tag) {
  const double dt = plan.clock.step;
  for (std::int64_t i = 0; i < steps; ++i) {
    auto air = map.sample_within<shape>(motion::place_ahead(tag.move, dt));
    air.sigma = air.inverse_lagrangian_time = air.epsilon_cbrt = 0.0;
    air.grad_sigma_W = none;
    motion::advance_solid<law, lift, shape>(design.body, design.terms, vessel, air, dt, none, none, tag);
    motion::touch_vessel<shape>(design.body, vessel, 0.5 * dt, tag.move);
  }
}

template <motion::DragLaw law, motion::WallLift lift>
void fly_alone(const Plan& plan, const DesignPlan& design, const motion::Enclosure& vessel,
               const air::AirMap& map, std::int64_t steps, State& tag) {
  if (vessel.wall() == air::WallShape::tapered)
    fly_alone<law, lift, air::WallShape::tapered>(plan, design, vessel, map, steps, tag);
  else
    fly_alone<law, lift, air::WallShape::straight>(plan, design, vessel, map, steps, tag);
}

}  // namespace

Vec3<double> calm_end(const Plan& plan, const DesignPlan& design, const air::AirMap& map,
                      const Vec3<double>& p_W, const Vec3<double>& n_W, double time) {
  using enum motion::DragLaw;
  using enum motion::WallLift;
  const motion::Enclosure vessel{map.radius(), map.height(), map.slope()};
  const auto steps = static_cast<std::int64_t>(std::ceil(time / plan.clock.step));
  State tag{{p_W, none, none}, n_W, none, none, none, none};
  const bool lift = design.body.wall_lift == on;
  if (design.body.drag_law == sphere) {
    lift ? fly_alone<sphere, on>(plan, design, vessel, map, steps, tag)
         : fly_alone<sphere, off>(plan, design, vessel, map, steps, tag);
  } else {
    lift ? fly_alone<fixed, on>(plan, design, vessel, map, steps, tag)
         : fly_alone<fixed, off>(plan, design, vessel, map, steps, tag);
  }
  return tag.move.p_W;
}

}  // namespace driftglow::flight
