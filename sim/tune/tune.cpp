#include "sim/tune/tune.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "models/error.hpp"
#include "sim/tune/bench_model.hpp"
#include "sim/tune/next_reading.hpp"
#include "sim/tune/simulation.hpp"

namespace driftglow::tune {
namespace {

// Simulated values about a place: m + S (x - x0), in prior deviations of the unknowns.
struct Straight {
  Eigen::VectorXd at;
  Eigen::VectorXd step;   // that the slopes were taken over, to either side
  Eigen::VectorXd value;  // [subject]
  Eigen::VectorXd noise;  // standard errors of the values
  Eigen::MatrixXd slope;  // [subject][unknown]

  double predict(Eigen::Index subject, const Eigen::VectorXd& x) const {
    return value[subject] + slope.row(subject).dot(x - at);
  }
};

bool same(const Subject& a, const Subject& b) {
  return a.quantity == b.quantity && a.tag == b.tag && a.fit == b.fit;
}

class Tuning {
 public:
  Tuning(const Readings& readings, const TuneSettings& settings, const std::stop_token& stop,
         const std::function<void(const std::string&)>& say)
      : readings_(readings),
        n_(static_cast<Eigen::Index>(readings.unknowns.size())),
        flights_(settings.flights),
        say_(say),
        simulation_({readings.replicates, settings.threads, settings.instructions}, stop),
        subjects_(flight_subjects(readings.base)) {
    for (const auto& reading : readings.readings) {
      std::size_t subject = 0;
      if (simulated(reading.subject.quantity))
        while (!same(subjects_[subject], reading.subject)) ++subject;
      flown_as_.push_back(subject);
    }
  }

  std::optional<Tuned> run() {
    start();
    Problem problem = this->problem();
    Posterior posterior{Eigen::VectorXd::Zero(n_), Eigen::MatrixXd::Identity(n_, n_), {}, {}, 0,
                        Posterior::Ended::settled};
    const bool any_flown = std::any_of(readings_.readings.begin(), readings_.readings.end(),
                                       [](const auto& r) { return simulated(r.subject.quantity); });
    say_("fitting");
    posterior = solve(problem, Eigen::VectorXd::Zero(n_));
    if (flights_ == Flights::left_out) {
      if (any_flown) throw LogicError("a reading needs flights, which are left out");
      return result(posterior);
    }
    // Slopes over about what is left open, so that they are well above the flights' noise.
    constexpr int rounds = 5;
    for (int round = 0; round < rounds; ++round) {
      if (!renew(posterior)) return std::nullopt;
      if (!any_flown) break;
      const Eigen::VectorXd before = posterior.mean;
      posterior = solve(problem, before);
      const Eigen::VectorXd deviation = posterior.covariance.diagonal().cwiseSqrt();
      constexpr double stays = 0.1;
      if ((posterior.mean - before).cwiseAbs().cwiseQuotient(deviation).maxCoeff() < stays) break;
    }
    return result(posterior);
  }

 private:
  std::vector<double> values(const Eigen::VectorXd& x) const {
    std::vector<double> result;
    for (Eigen::Index k = 0; k < n_; ++k) {
      const auto& unknown = readings_.unknowns[static_cast<std::size_t>(k)];
      result.push_back(unknown.value + x[k] * unknown.deviation());
    }
    return result;
  }

  // The scenario as given, and the tags' scatter there. What it cannot tell at all is refused here.
  void start() {
    BenchModel model(readings_.base);
    for (const auto& reading : readings_.readings) {
      const bool flown = simulated(reading.subject.quantity);
      const double value = flown ? 0.0 : model.predict(reading.subject);
      if (!std::isfinite(value))
        throw InputError(
            reading.where +
            "in the scenario as it is the tag lights nowhere there; expected a scenario in which it "
            "does, so that there is something to correct");
      before_.push_back(value);
      scatter_.push_back(flown ? 0.0 : model.scatter(reading.subject, reading.tags_measured));
    }
  }

  double spread(std::size_t i) const {
    const auto& reading = readings_.readings[i];
    double noise = 0.0;
    if (simulated(reading.subject.quantity) && straight_)
      noise = straight_->noise[static_cast<Eigen::Index>(flown_as_[i])];
    return std::sqrt(reading.uncertainty * reading.uncertainty + scatter_[i] * scatter_[i] + noise * noise);
  }

  std::optional<Eigen::VectorXd> predictions(const Eigen::VectorXd& x) {
    const auto count = static_cast<Eigen::Index>(readings_.readings.size());
    Eigen::VectorXd predicted(count);
    try {
      BenchModel model(readings_.scenario_at(values(x)));
      for (Eigen::Index i = 0; i < count; ++i) {
        const auto& reading = readings_.readings[static_cast<std::size_t>(i)];
        const auto flown = static_cast<Eigen::Index>(flown_as_[static_cast<std::size_t>(i)]);
        if (!simulated(reading.subject.quantity)) {
          predicted[i] = model.predict(reading.subject);
        } else {
          predicted[i] = straight_ ? straight_->predict(flown, x) : reading.value;
        }
        if (!std::isfinite(predicted[i])) return std::nullopt;
      }
    } catch (const InputError&) {
      return std::nullopt;
    }
    return predicted;
  }

  Problem problem() {
    Problem problem{n_, {}, Eigen::VectorXd(n_), Eigen::VectorXd(n_)};
    for (Eigen::Index k = 0; k < n_; ++k) {
      const auto& unknown = readings_.unknowns[static_cast<std::size_t>(k)];
      problem.least[k] = (unknown.least - unknown.value) / unknown.deviation();
      problem.most[k] = (unknown.most - unknown.value) / unknown.deviation();
    }
    problem.residuals = [this](const Eigen::VectorXd& x) -> std::optional<Eigen::VectorXd> {
      auto predicted = predictions(x);
      if (!predicted) return std::nullopt;
      for (Eigen::Index i = 0; i < predicted->size(); ++i) {
        const auto number = static_cast<std::size_t>(i);
        (*predicted)[i] = ((*predicted)[i] - readings_.readings[number].value) / spread(number);
      }
      return predicted;
    };
    return problem;
  }

  // Flies at the place, and beside it where the slopes there are not known yet. False when stopped.
  bool renew(const Posterior& posterior) {
    const Eigen::VectorXd& x = posterior.mean;
    const auto count = static_cast<Eigen::Index>(subjects_.size());
    say_(straight_ ? "flying at the fitted values"
                   : "flying at the fitted values and to either side of each");
    const auto here = simulation_.fly(readings_.scenario_at(values(x)));
    if (!here) return false;
    const bool near = straight_ && ((x - straight_->at).cwiseAbs().array() <= straight_->step.array()).all();
    Straight next{x, near ? straight_->step : Eigen::VectorXd(n_), Eigen::VectorXd(count),
                  Eigen::VectorXd(count), near ? straight_->slope : Eigen::MatrixXd::Zero(count, n_)};
    for (Eigen::Index s = 0; s < count; ++s) {
      const auto mean = mean_of((*here)[static_cast<std::size_t>(s)]);
      next.value[s] = mean.mean;
      next.noise[s] = mean.standard_error;
    }
    if (!near && !slopes(posterior, *here, next)) return false;
    if (flown_before_.size() == 0) flown_before_ = next.value - next.slope * x;
    straight_ = std::move(next);
    return true;
  }

  bool slopes(const Posterior& posterior, const Flown& here, Straight& next) {
    constexpr double least_step = 0.3, most_step = 1.0;
    const Eigen::VectorXd& x = posterior.mean;
    for (Eigen::Index k = 0; k < n_; ++k) {
      next.step[k] = std::clamp(std::sqrt(posterior.covariance(k, k)), least_step, most_step);
      Flown sides[2] = {here, here};
      double reached[2] = {0.0, 0.0};
      for (int side = 0; side < 2; ++side) {
        Eigen::VectorXd beside = x;
        beside[k] += side == 0 ? -next.step[k] : next.step[k];
        try {
          auto flown = simulation_.fly(readings_.scenario_at(values(beside)));
          if (!flown) return false;
          sides[side] = std::move(*flown);
          reached[side] = beside[k] - x[k];
        } catch (const InputError&) {
          // Beyond what the scenario bears: the slope is then one-sided.
        }
      }
      if (reached[0] == reached[1]) continue;
      for (std::size_t s = 0; s < subjects_.size(); ++s) {
        const auto slope = mean_difference(sides[1][s], sides[0][s], 1.0 / (reached[1] - reached[0]));
        constexpr double told = 2.0;
        if (std::fabs(slope.mean) > told * slope.standard_error)
          next.slope(static_cast<Eigen::Index>(s), k) = slope.mean;
      }
    }
    return true;
  }

  Tuned result(const Posterior& posterior) {
    Tuned tuned{};
    const auto after = predictions(posterior.mean);
    const auto found = values(posterior.mean);
    Eigen::VectorXd scale(n_);
    for (Eigen::Index k = 0; k < n_; ++k) {
      const auto number = static_cast<std::size_t>(k);
      const auto& unknown = readings_.unknowns[number];
      scale[k] = unknown.deviation();
      tuned.unknowns.push_back({unknown.place.path, unknown.unit, unknown.value, unknown.deviation(),
                                found[number], scale[k] * std::sqrt(posterior.covariance(k, k))});
    }
    tuned.covariance = scale.asDiagonal() * posterior.covariance * scale.asDiagonal();
    for (std::size_t i = 0; i < readings_.readings.size(); ++i) {
      const auto& reading = readings_.readings[i];
      const bool flown = simulated(reading.subject.quantity);
      const auto subject = static_cast<Eigen::Index>(flown_as_[i]);
      tuned.readings.push_back({reading.name, reading.subject.quantity, reading.value, reading.uncertainty,
                                scatter_[i], flown ? straight_->noise[subject] : 0.0,
                                flown ? flown_before_[subject] : before_[i],
                                (*after)[static_cast<Eigen::Index>(i)]});
    }
    tuned.findings = findings_of(posterior);
    tuned.ended = posterior.ended;
    tuned.evaluations = posterior.evaluations;
    if (flights_ == Flights::made) {
      duties(posterior, tuned);
      next(posterior, tuned);
    }
    tuned.flight_sets = simulation_.sets();
    return tuned;
  }

  void duties(const Posterior& posterior, Tuned& tuned) {
    for (std::size_t s = 0; s < subjects_.size(); ++s) {
      if (subjects_[s].quantity != Quantity::duty) continue;
      const auto row = static_cast<Eigen::Index>(s);
      const auto& design = readings_.base.tags[*subjects_[s].tag];
      const Eigen::VectorXd slope = straight_->slope.row(row);
      tuned.duties.push_back({design.name, design.fits[subjects_[s].fit],
                              straight_->predict(row, posterior.mean), straight_->noise[row], slope.norm(),
                              std::sqrt(slope.dot(posterior.covariance * slope))});
    }
  }

  void next(const Posterior& posterior, Tuned& tuned) {
    Eigen::MatrixXd duty(0, n_);
    for (std::size_t s = 0; s < subjects_.size(); ++s) {
      if (subjects_[s].quantity != Quantity::duty) continue;
      duty.conservativeResize(duty.rows() + 1, Eigen::NoChange);
      duty.row(duty.rows() - 1) = straight_->slope.row(static_cast<Eigen::Index>(s));
    }
    std::vector<Candidate> candidates = bench_candidates(readings_.base);
    std::vector<Eigen::VectorXd> slopes = candidate_slopes(candidates, posterior.mean);
    for (std::size_t s = 0; s < subjects_.size(); ++s) {
      candidates.push_back(flown_candidate(readings_.base, subjects_[s]));
      candidates.back().uncertainty =
          candidates.back().typical(straight_->value[static_cast<Eigen::Index>(s)]);
      slopes.push_back(straight_->slope.row(static_cast<Eigen::Index>(s)));
    }
    tuned.duty_deviation = std::sqrt((duty * posterior.covariance * duty.transpose()).trace());
    tuned.next = best_next(candidates, slopes, posterior.covariance, duty);
  }

  // One row each: how it changes with each unknown.
  std::vector<Eigen::VectorXd> candidate_slopes(std::vector<Candidate>& candidates,
                                                const Eigen::VectorXd& x) {
    const auto predict = [&](const Eigen::VectorXd& at) {
      Eigen::VectorXd predicted =
          Eigen::VectorXd::Constant(static_cast<Eigen::Index>(candidates.size()), NAN);
      try {
        BenchModel model(readings_.scenario_at(values(at)));
        for (std::size_t i = 0; i < candidates.size(); ++i)
          predicted[static_cast<Eigen::Index>(i)] = model.predict(candidates[i].subject);
      } catch (const InputError&) {
        predicted.setConstant(NAN);
      }
      return predicted;
    };
    const Eigen::VectorXd here = predict(x);
    std::vector<Eigen::VectorXd> slopes(candidates.size(), Eigen::VectorXd::Zero(n_));
    constexpr double step = 0.2;
    for (Eigen::Index k = 0; k < n_; ++k) {
      Eigen::VectorXd high = x, low = x;
      high[k] += step;
      low[k] -= step;
      const Eigen::VectorXd change = predict(high) - predict(low);
      for (std::size_t i = 0; i < candidates.size(); ++i) {
        const double slope = change[static_cast<Eigen::Index>(i)] / (2.0 * step);
        slopes[i][k] = std::isfinite(slope) ? slope : 0.0;
      }
    }
    BenchModel model(readings_.scenario_at(values(x)));
    for (std::size_t i = 0; i < candidates.size(); ++i)
      candidates[i].uncertainty = std::hypot(candidates[i].typical(here[static_cast<Eigen::Index>(i)]),
                                             model.scatter(candidates[i].subject, 1));
    return slopes;
  }

  const Readings& readings_;
  Eigen::Index n_;
  Flights flights_;
  const std::function<void(const std::string&)>& say_;
  Simulation simulation_;
  std::vector<Subject> subjects_;
  std::vector<std::size_t> flown_as_;  // of each simulated reading: its number among the subjects
  std::vector<double> before_, scatter_;
  Eigen::VectorXd flown_before_;  // subjects, at the priors' means
  std::optional<Straight> straight_;
};

}  // namespace

double TunedReading::deviations() const {
  return (after - value) / std::sqrt(uncertainty * uncertainty + scatter * scatter + noise * noise);
}

Eigen::MatrixXd Tuned::correlations() const {
  const Eigen::VectorXd inverse = covariance.diagonal().cwiseSqrt().cwiseInverse();
  return inverse.asDiagonal() * covariance * inverse.asDiagonal();
}

std::optional<Tuned> tune(const Readings& readings, const TuneSettings& settings, const std::stop_token& stop,
                          const std::function<void(const std::string&)>& say) {
  return Tuning(readings, settings, stop, say).run();
}

}  // namespace driftglow::tune
