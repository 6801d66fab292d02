#include "sim/tune/next_reading.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace driftglow::tune {
namespace {

// Common practice with a maker's instruments, no source: a counter, a hand meter, an oscilloscope, a ruler, a
// hot-wire anemometer, a phone's camera.
struct Usual {
  Quantity quantity;
  double relative, absolute;
};
constexpr Usual usual[] = {
    {Quantity::resonance, 0.003, 0.0},          {Quantity::bandwidth, 0.05, 0.0},
    {Quantity::inductance, 0.01, 0.0},          {Quantity::resistance, 0.02, 0.0},
    {Quantity::search_coil_voltage, 0.02, 0.0}, {Quantity::first_light_distance, 0.0, 3e-3},
    {Quantity::first_light_supply, 0.01, 0.0},  {Quantity::supply_current, 0.02, 0.0},
    {Quantity::air_speed, 0.04, 0.0},           {Quantity::terminal_speed, 0.03, 0.0},
    {Quantity::hover_height, 0.0, 10e-3},       {Quantity::duty, 0.0, 0.02},
    {Quantity::flashes_per_second, 0.05, 0.0},  {Quantity::stuck_share, 0.0, 0.02},
};

class List {
 public:
  explicit List(const scenario::Scenario& scenario) : scenario_(scenario) {}

  std::vector<Candidate> bench() {
    const auto* coils = std::get_if<scenario::CoilDrive>(&scenario_.drive);
    if (coils != nullptr) drive(*coils);
    Subject search = subject(Quantity::search_coil_voltage);
    search.turns = 10.0;
    search.area = 12.6e-4;
    add("voltage of a search coil in the middle of the vessel", search);
    for (std::size_t tag = 0; tag < scenario_.tags.size(); ++tag) this->tag(tag, coils);
    const double height = scenario_.vessel.height;
    for (const auto& [share, where] :
         {std::pair(0.15, "low"), std::pair(0.5, "half-way up"), std::pair(0.85, "high")}) {
      Subject air = subject(Quantity::air_speed);
      air.place = {0.0, 0.0, share * height};
      air.sees = Subject::Sees::all;
      add(fmt::format("air speed on the axis, {}", where), air);
    }
    return std::move(found_);
  }

 private:
  Subject subject(Quantity quantity) const {
    Subject s{};
    s.quantity = quantity;
    s.place = {0.0, 0.0, 0.5 * scenario_.vessel.height};
    s.axis = {0.0, 0.0, 1.0};
    s.at = 1e4;
    return s;
  }

  void add(std::string what, const Subject& subject) {
    const auto& known = usual[static_cast<int>(subject.quantity)];
    found_.push_back({std::move(what), subject, known.relative, known.absolute, 0.0});
  }

  void drive(const scenario::CoilDrive& coils) {
    const bool tank = !std::holds_alternative<scenario::GivenCurrent>(coils.driver);
    for (std::size_t i = 0; i < coils.circuits.size(); ++i) {
      const std::string of = coils.circuits.size() > 1 ? " of circuit " + coils.circuits[i].name : "";
      const auto circuit = [&](const char* what, Quantity quantity) {
        Subject s = subject(quantity);
        s.circuit = i;
        add(what + of, s);
      };
      circuit("inductance of the coils on a meter at 10 kHz", Quantity::inductance);
      circuit("resistance of the coils on a meter at 10 kHz", Quantity::resistance);
      if (!tank) continue;
      circuit("resonance of the drive", Quantity::resonance);
      circuit("bandwidth of the drive's tank", Quantity::bandwidth);
      circuit("supply current without tags", Quantity::supply_current);
    }
  }

  void tag(std::size_t number, const scenario::CoilDrive* coils) {
    const auto& design = scenario_.tags[number];
    const auto of_tag = [&](const std::string& what, Quantity quantity, std::size_t fit = 0) {
      Subject s = subject(quantity);
      s.tag = number;
      s.fit = fit;
      add(fmt::format("{} ({}{}{})", what, design.name, fit_matters(quantity) ? ", " : "",
                      fit_matters(quantity) ? design.fits[fit] : ""),
          s);
    };
    if (std::holds_alternative<scenario::CircuitReceiver>(design.receiver)) {
      of_tag("resonance of a tag", Quantity::resonance);
      of_tag("bandwidth of a tag", Quantity::bandwidth);
      of_tag("inductance of a tag's coil at 10 kHz", Quantity::inductance);
    }
    if (coils != nullptr && !std::holds_alternative<scenario::GivenCurrent>(coils->driver))
      for (std::size_t fit = 0; fit < design.fits.size(); ++fit)
        of_tag("supply voltage at which a tag first lights in the middle, upright",
               Quantity::first_light_supply, fit);
    if (design.hold || design.body.kind != scenario::BodyKind::solid) return;
    of_tag("terminal speed of a tag dropped in still air", Quantity::terminal_speed);
    of_tag("height at which a tag hovers on the axis", Quantity::hover_height);
  }

  static bool fit_matters(Quantity quantity) { return quantity == Quantity::first_light_supply; }

  const scenario::Scenario& scenario_;
  std::vector<Candidate> found_;
};

}  // namespace

std::vector<Candidate> bench_candidates(const scenario::Scenario& scenario) {
  return List(scenario).bench();
}

Candidate flown_candidate(const scenario::Scenario& scenario, const Subject& subject) {
  const auto& design = scenario.tags[*subject.tag];
  const auto& known = usual[static_cast<int>(subject.quantity)];
  std::string what;
  switch (subject.quantity) {
    case Quantity::duty:
      what = fmt::format("duty counted from video ({}, {})", design.name, design.fits[subject.fit]);
      break;
    case Quantity::flashes_per_second:
      what = fmt::format("flashes counted from video ({}, {})", design.name, design.fits[subject.fit]);
      break;
    default:
      what = fmt::format("share of tags stuck ({})", design.name);
  }
  return {std::move(what), subject, known.relative, known.absolute, 0.0};
}

std::vector<NextReading> best_next(const std::vector<Candidate>& candidates,
                                   const std::vector<Eigen::VectorXd>& slopes,
                                   const Eigen::MatrixXd& covariance, const Eigen::MatrixXd& duty) {
  const double variance = (duty * covariance * duty.transpose()).trace();
  std::vector<NextReading> best;
  for (std::size_t i = 0; i < candidates.size(); ++i) {
    const auto& candidate = candidates[i];
    if (!(candidate.uncertainty > 0.0) || !std::isfinite(candidate.uncertainty)) continue;
    const Eigen::VectorXd along = covariance * slopes[i];
    const double own = candidate.uncertainty * candidate.uncertainty + slopes[i].dot(along);
    const double taken = (duty * along).squaredNorm() / own;
    constexpr double least = 1e-3;
    if (taken < least * variance || taken == 0.0) continue;
    best.push_back({candidate.what, candidate.subject.quantity, candidate.uncertainty,
                    std::sqrt(std::max(0.0, variance - taken))});
  }
  std::stable_sort(best.begin(), best.end(),
                   [](const auto& a, const auto& b) { return a.duty_deviation < b.duty_deviation; });
  return best;
}

}  // namespace driftglow::tune
