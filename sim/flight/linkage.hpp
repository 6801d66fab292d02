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

  template <class T>
  T squared(const DesignPlan& design, const Vec3<T>&, const Vec3<T>& n) const {
    const T re = along(in_phase_, n), im = along(quadrature_, n);
    return T(design.moments.area_turns * design.moments.area_turns) * (re * re + im * im);
  }

 private:
  static Vec3<double> scaled(double s, const std::array<double, 3>& a) {
    return {s * a[0], s * a[1], s * a[2]};
  }
  template <class T>
  static T along(const Vec3<double>& B, const Vec3<T>& n) {
    return numeric::dot(Vec3<T>{T(B.x), T(B.y), T(B.z)}, n);
  }
  Vec3<double> in_phase_, quadrature_;  // T peak
};

template <coil::FluxRule rule>
class CoilLinkage {
 public:
  explicit CoilLinkage(const maps::CoilState& coils) : map_(coils.map), current_(coils.point.current_peak) {}

  template <class T>
  T squared(const DesignPlan& design, const Vec3<T>& p, const Vec3<T>& n) const {
    const T zero(0.0);
    const T r = numeric::square_root(p.x * p.x + p.y * p.y);
    // On the axis every direction is radial: take x.
    const auto off_axis = r > zero;
    const T inverse = T(1.0) / r;
    const T cosine = numeric::select(off_axis, p.x * inverse, T(1.0));
    const T sine = numeric::select(off_axis, p.y * inverse, zero);
    const coil::ReceiverPlace<T> at{r, p.z, n.x * cosine + n.y * sine, n.y * cosine - n.x * sine, n.z};
    const T per_ampere = rule == coil::FluxRule::curvature ? coil::flux_curvature(map_, design.moments, at)
                                                           : coil::flux_seven_point(map_, design.moments, at);
    const T linkage = T(current_) * per_ampere;
    return linkage * linkage;
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
  const auto* coils = std::get_if<maps::CoilState>(&plan.drive.field);
  if (design.flux_rule.rule == coil::FluxRule::curvature)
    return use(CoilLinkage<coil::FluxRule::curvature>(*coils));
  return use(CoilLinkage<coil::FluxRule::seven_point>(*coils));
}

}  // namespace driftglow::flight
