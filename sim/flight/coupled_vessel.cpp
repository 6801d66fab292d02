#include "sim/flight/coupled_vessel.hpp"

#include <algorithm>
#include <cmath>

#include "models/constants.hpp"
#include "models/receiver/glow_curve.hpp"

namespace driftglow::flight {
namespace {

using Complex = std::complex<double>;

// Coils in line whose EMF would move by less than this share through the other's current are left uncoupled.
constexpr double least_coupling = 0.02;
// Straight lines of a tag's admittance over its EMF.
constexpr int impedance_steps = 128;

std::vector<coil::FluxMoments> coils_of(const Plan& plan) {
  std::vector<coil::FluxMoments> coils;
  for (const DesignPlan& design : plan.designs) {
    if (couples(design)) coils.insert(coils.end(), design.count, design.moments);
  }
  return coils;
}

// Of the node voltage's fundamental at a given LED current; a pair's half waves shift each by its own LED.
double amplitude_shift(const LedPlan& led, const receiver::BuiltOffset& offset) {
  return led.antiparallel ? 0.5 * (offset.led_voltage + offset.antiparallel_voltage) : offset.led_voltage;
}

}  // namespace

bool couples(const DesignPlan& design) {
  return design.tank && design.solid();
}

CouplingPlan coupling_plan(const Plan& plan) {
  CouplingPlan result{0.0, {}};
  double strongest = 0.0;  // m4 S
  for (const DesignPlan& design : plan.designs) {
    auto& leds = result.leds.emplace_back();
    if (!couples(design)) continue;
    for (std::size_t fit = 0; fit < design.leds.size(); ++fit) {
      const auto tank = nominal_tank(*design.tank, design.leds[fit]);
      leds.emplace_back(design.curves[fit], tank, plan.omega);
      const double area = design.moments.area_turns;
      strongest =
          std::max(strongest, area * area * std::abs(receiver::linear_response(tank, plan.omega).current));
    }
  }
  // Dipoles in line: M = mu0 m_a m_b/(2 pi d^3).
  result.reach = std::cbrt(plan.omega * constant::mu_0 * strongest / (2.0 * constant::pi * least_coupling));
  return result;
}

CoupledVessel::CoupledVessel(const Plan& plan, const std::vector<StartedTag>& tags, const DriveDraw& drive)
    : emf_per_linkage_(plan.omega * drive.emf()),
      omega_(plan.omega * drive.frequency),
      reach_(plan.coupling->reach),
      coils_(coils_of(plan)),
      all_(coils_, omega_, reach_),
      mutual_(Eigen::MatrixXd::Zero(all_.size(), all_.size())) {
  std::size_t slot = 0;
  for (std::size_t d = 0; d < plan.designs.size(); ++d) {
    const DesignPlan& design = plan.designs[d];
    for (int tag = design.first_tag; tag < design.first_tag + design.count; ++tag) {
      first_slot_.push_back(slot);
      slots_.push_back(design.slot_count());
      slot += design.slot_count();
      if (!couples(design)) continue;
      members_.push_back({tag, static_cast<int>(d), {}});
      auto& impedances = impedances_.emplace_back();
      for (std::size_t f = 0; f < design.fits.size(); ++f) {
        const auto& offset = tags[tag].fits[f].offset;
        impedances.emplace_back(plan.coupling->leds[d][f],
                                receiver::built_design(nominal_tank(*design.tank, design.leds[f]), offset),
                                amplitude_shift(design.leds[f], offset), omega_,
                                emf_per_linkage_ * design.linkage_max, impedance_steps);
      }
    }
  }
  emf_.resize(members_.size());
  seen_.resize(members_.size());
  for (int d = 0; d < static_cast<int>(plan.designs.size()); ++d) {
    if (!couples(plan.designs[d])) continue;
    for (int f = 0; f < plan.designs[d].fit_count(); ++f) {
      Population population{d, f, plan.designs[d].second_slot(f), {}, std::vector<Complex>(members_.size())};
      for (std::size_t i = 0; i < members_.size(); ++i) {
        const DesignPlan& own = plan.designs[members_[i].design];
        const int carried = members_[i].design == d ? f : own.carried[members_[i].tag - own.first_tag];
        population.impedance.push_back(&impedances_[i][carried]);
      }
      populations_.push_back(std::move(population));
    }
  }
}

void CoupledVessel::link(std::span<const Tag> tags) {
  for (Member& member : members_) member.neighbours.clear();
  for (int i = 0; i < all_.size(); ++i) {
    const auto& here = tags[members_[i].tag].pose;
    for (int j = 0; j < i; ++j) {
      const auto& there = tags[members_[j].tag].pose;
      if ((here.centre - there.centre).squaredNorm() > reach_ * reach_) continue;
      const double mutual = coupling::pair_mutual_inductance(coils_[i], here, coils_[j], there);
      members_[i].neighbours.emplace_back(j, mutual);
      members_[j].neighbours.emplace_back(i, mutual);
    }
  }
}

// Gauss-Seidel on the currents: each round takes one product a pair where a factorisation takes all tags
// cubed; converges while no tag's neighbours weigh as much as its own impedance.
bool CoupledVessel::relax(Population& population) {
  constexpr int most_rounds = 20;
  for (int round = 0; round < most_rounds; ++round) {
    double change = 0.0, largest = 0.0;
    for (std::size_t i = 0; i < members_.size(); ++i) {
      double re = 0.0, im = 0.0;
      for (const auto& [j, mutual] : members_[i].neighbours) {
        re += mutual * population.current[j].real();
        im += mutual * population.current[j].imag();
      }
      // e - j omega sum of M I.
      const double seen_re = emf_[i].real() + omega_ * im, seen_im = emf_[i].imag() - omega_ * re;
      const double square = seen_re * seen_re + seen_im * seen_im;
      if (!std::isfinite(square)) return false;
      const Complex y = population.impedance[i]->admittance(std::sqrt(square));
      population.current[i] = {y.real() * seen_re - y.imag() * seen_im,
                               y.real() * seen_im + y.imag() * seen_re};
      const double moved_re = seen_re - seen_[i].real(), moved_im = seen_im - seen_[i].imag();
      change = std::max(change, moved_re * moved_re + moved_im * moved_im);
      largest = std::max(largest, square);
      seen_[i] = {seen_re, seen_im};
    }
    if (round > 0 && change <= tolerance * tolerance * largest) return true;
  }
  return false;
}

bool CoupledVessel::solve(Population& population) {
  if (relax(population)) return true;
  mutual_.setZero();
  for (int i = 0; i < all_.size(); ++i) {
    for (const auto& [j, mutual] : members_[i].neighbours) mutual_(i, j) = mutual;
  }
  all_.set_mutual(mutual_);
  seen_ = emf_;
  const auto outcome = all_.settle(emf_, population.impedance, seen_, tolerance);
  for (std::size_t i = 0; i < members_.size(); ++i)
    population.current[i] = seen_[i] * population.impedance[i]->admittance(std::abs(seen_[i]));
  return outcome.change <= tolerance;
}

bool CoupledVessel::see(std::span<const Tag> tags, std::span<double> seen_squared) {
  for (std::size_t tag = 0; tag < tags.size(); ++tag) {
    std::fill_n(seen_squared.begin() + static_cast<std::ptrdiff_t>(first_slot_[tag]), slots_[tag],
                std::norm(tags[tag].linkage));
  }
  link(tags);
  for (std::size_t i = 0; i < members_.size(); ++i)
    emf_[i] = emf_per_linkage_ * tags[members_[i].tag].linkage;
  bool found = true;
  for (Population& population : populations_) {
    if (!solve(population)) {
      found = false;
      population.current.assign(members_.size(), 0.0);
      continue;
    }
    for (std::size_t i = 0; i < members_.size(); ++i) {
      if (members_[i].design != population.design || members_[i].neighbours.empty()) continue;
      const std::size_t first = first_slot_[members_[i].tag];
      const double seen = std::norm(seen_[i]) / (emf_per_linkage_ * emf_per_linkage_);
      seen_squared[first + population.fit] = seen;
      if (population.second_slot) seen_squared[first + *population.second_slot] = seen;
    }
  }
  return found;
}

}  // namespace driftglow::flight
