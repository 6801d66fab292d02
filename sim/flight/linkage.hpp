#pragma once

#include "sim/flight/plan.hpp"

// Squared amplitude of the flux linkage [Wb2] (B.n [T2] for a plain threshold) of a tag at a place and with
// an axis: one type a kind of field, so that the choice is made outside the step.
namespace driftglow::flight {

using numeric::Vec3;

class UniformLinkage {
 public:
  explicit UniformLinkage(const scenario::UniformField& field)
      : in_phase_(scaled(field.flux_density_peak, field.axis)),
        quadrature_(field.quadrature_axis ? scaled(field.flux_density_peak, *field.quadrature_axis)
                                          : Vec3<double>{0.0, 0.0, 0.0}) {}

  double squared(const DesignPlan& design, const Vec3<double>&, const Vec3<double>& n) const {
    const double re = numeric::dot(in_phase_, n), im = numeric::dot(quadrature_, n);
    return design.moments.area_turns * design.moments.area_turns * (re * re + im * im);
  }

 private:
  static Vec3<double> scaled(double s, const std::array<double, 3>& a) {
    return {s * a[0], s * a[1], s * a[2]};
  }
  Vec3<double> in_phase_, quadrature_;  // T peak
};

template <coil::FluxRule rule>
class CoilLinkage {
 public:
  explicit CoilLinkage(const maps::CoilState& coils) : map_(coils.map), current_(coils.point.current_peak) {}

  double squared(const DesignPlan& design, const Vec3<double>& p, const Vec3<double>& n) const {
    const double r = numeric::square_root(p.x * p.x + p.y * p.y);
    // On the axis every direction is radial: take x.
    const bool off_axis = r > 0.0;
    const double cosine = numeric::select(off_axis, p.x / r, 1.0),
                 sine = numeric::select(off_axis, p.y / r, 0.0);
    const coil::ReceiverPlace<double> at{r, p.z, n.x * cosine + n.y * sine, n.y * cosine - n.x * sine, n.z};
    const double per_ampere = rule == coil::FluxRule::curvature
                                  ? coil::flux_curvature(map_, design.moments, at)
                                  : coil::flux_seven_point(map_, design.moments, at);
    return current_ * current_ * per_ampere * per_ampere;
  }

 private:
  const coil::CoilMap& map_;
  double current_;  // A peak
};

// Calls use(linkage) with the linkage that fits the plan's field and the design's flux rule.
template <class Use>
auto with_linkage(const Plan& plan, const DesignPlan& design, const Use& use) {
  if (const auto* uniform = std::get_if<scenario::UniformField>(&plan.drive.field))
    return use(UniformLinkage(*uniform));
  const auto& coils = std::get<maps::CoilState>(plan.drive.field);
  if (design.flux_rule.rule == coil::FluxRule::curvature)
    return use(CoilLinkage<coil::FluxRule::curvature>(coils));
  return use(CoilLinkage<coil::FluxRule::seven_point>(coils));
}

}  // namespace driftglow::flight
