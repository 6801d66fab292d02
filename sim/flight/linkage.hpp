#pragma once

#include "models/coil/volume_linkage.hpp"
#include "sim/flight/plan.hpp"

// Squared amplitude of the flux linkage [Wb2] (B.n [T2] for a plain threshold) of a tag at a place and with
// an axis: one type a kind of field, so that the choice is made outside the step.
namespace driftglow::flight {

using numeric::Vec3;

// Linkage in phase with the drive's current and a quarter period later: its sign matters among tags that
// couple.
template <class T>
struct Phasor {
  T re, im;
};

class UniformLinkage {
 public:
  explicit UniformLinkage(const scenario::UniformField& field)
      : in_phase_(scaled(field.flux_density_peak, field.axis)),
        quadrature_(field.quadrature_axis ? scaled(field.flux_density_peak, *field.quadrature_axis)
                                          : Vec3<double>{0.0, 0.0, 0.0}) {}

  template <class T>
  Phasor<T> phasor(const DesignPlan& design, const Vec3<T>&, const Vec3<T>& n) const {
    const T area(design.moments.area_turns);
    return {area * along(in_phase_, n), area * along(quadrature_, n)};
  }

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
  Phasor<T> phasor(const DesignPlan& design, const Vec3<T>& p, const Vec3<T>& n) const {
    return {linkage(design, p, n), T(0.0)};
  }

  template <class T>
  T squared(const DesignPlan& design, const Vec3<T>& p, const Vec3<T>& n) const {
    const T all = linkage(design, p, n);
    return all * all;
  }

 private:
  template <class T>
  T linkage(const DesignPlan& design, const Vec3<T>& p, const Vec3<T>& n) const {
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
    return T(current_) * per_ampere;
  }

  const coil::CoilMap& map_;
  double current_;  // A peak
};

// parts: of the map, 2 where phases differ.
template <int parts, coil::FluxRule rule>
class VolumeLinkage {
 public:
  explicit VolumeLinkage(const coil::VolumeMap& map) : map_(map) {}

  template <class T>
  Phasor<T> phasor(const DesignPlan& design, const Vec3<T>& p, const Vec3<T>& n) const {
    T flux[parts];
    if constexpr (rule == coil::FluxRule::curvature) {
      coil::flux_curvature(map_, design.moments, {p, n}, flux);
    } else {
      coil::flux_seven_point(map_, design.moments, {p, n}, flux);
    }
    if constexpr (parts == 1) {
      return {flux[0], T(0.0)};
    } else {
      return {flux[0], flux[1]};
    }
  }

  template <class T>
  T squared(const DesignPlan& design, const Vec3<T>& p, const Vec3<T>& n) const {
    const auto [re, im] = phasor(design, p, n);
    return re * re + im * im;
  }

 private:
  const coil::VolumeMap& map_;
};

template <int parts, class Use>
auto with_volume_linkage(const coil::VolumeMap& map, coil::FluxRule rule, const Use& use) {
  if (rule == coil::FluxRule::curvature) return use(VolumeLinkage<parts, coil::FluxRule::curvature>(map));
  return use(VolumeLinkage<parts, coil::FluxRule::seven_point>(map));
}

// Calls use(linkage) with the linkage that fits the plan's field and the design's flux rule.
template <class Use>
auto with_linkage(const Plan& plan, const DesignPlan& design, const Use& use) {
  if (const auto* uniform = std::get_if<scenario::UniformField>(&plan.drive.field))
    return use(UniformLinkage(*uniform));
  if (const auto* map = plan.drive.volume())
    return map->parts() == 1 ? with_volume_linkage<1>(*map, design.flux_rule.rule, use)
                             : with_volume_linkage<2>(*map, design.flux_rule.rule, use);
  const auto* coils = std::get_if<maps::CoilState>(&plan.drive.field);
  if (design.flux_rule.rule == coil::FluxRule::curvature)
    return use(CoilLinkage<coil::FluxRule::curvature>(*coils));
  return use(CoilLinkage<coil::FluxRule::seven_point>(*coils));
}

}  // namespace driftglow::flight
