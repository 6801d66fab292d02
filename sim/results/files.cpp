#include "sim/results/files.hpp"

#include <fmt/format.h>

#include <cmath>
#include <functional>
#include <nlohmann/json.hpp>

#include "sim/results/flight_head.hpp"
#include "sim/store/atomic_file.hpp"
#include "sim/store/format.hpp"

namespace driftglow::results {
namespace {

using Json = nlohmann::ordered_json;
using flight::ReplicateResult;
using statistics::Estimate;
using store::Compression;
using store::Extents;

constexpr std::uint64_t place_r = flight::place_r_bins, place_z = flight::place_z_bins;

std::string csv_number(double value) {
  return std::isfinite(value) ? fmt::format("{}", value) : std::string();
}

// The library writes values that are not finite as null.
Json json(const Estimate& estimate) {
  return {{"mean", estimate.mean},
          {"low_95", estimate.mean - estimate.half_width},
          {"high_95", estimate.mean + estimate.half_width},
          {"half_width_95", estimate.half_width},
          {"standard_error", estimate.standard_error},
          {"replicates", estimate.count}};
}

Json json(const std::vector<Estimate>& estimates) {
  Json list = Json::array();
  for (const auto& estimate : estimates) list.push_back(json(estimate));
  return list;
}

// The first axis is r.
Json place_rows(const std::vector<std::int64_t>& counts) {
  Json rows = Json::array();
  for (std::uint64_t i = 0; i < place_r; ++i) {
    rows.push_back(
        std::vector<std::int64_t>(counts.begin() + i * place_z, counts.begin() + (i + 1) * place_z));
  }
  return rows;
}

std::vector<double> edges(double length, std::uint64_t bins) {
  std::vector<double> values;
  for (std::uint64_t i = 0; i <= bins; ++i)
    values.push_back(length * static_cast<double>(i) / static_cast<double>(bins));
  return values;
}

std::vector<double> spell_bin_starts() {
  std::vector<double> starts;
  for (int bin = 0; bin < flight::spell_bins; ++bin) starts.push_back(flight::spell_bin_start(bin));
  return starts;
}

// The LEDs of an antiparallel pair, and the colour of their light together: chromaticities mix in the
// proportion of luminance over y (CIE 15).
void add_pair(const FitSummary& fit, const scenario::Scenario& scenario, Json& out) {
  const auto emitters = scenario.emitters_of(fit.emitter);
  double weight = 0.0, x = 0.0, y = 0.0;
  out["emitters"] = Json::array();
  for (std::size_t i = 0; i < emitters.size(); ++i) {
    const auto& emitter = *emitters[i];
    out["emitters"].push_back({{"emitter", emitter.name},
                               {"colour", emitter.colour},
                               {"chromaticity", emitter.chromaticity},
                               {"mean_light_cd", json(fit.emitter_intensity[i])}});
    const double own = fit.emitter_intensity[i].mean / emitter.chromaticity[1];
    weight += own;
    x += own * emitter.chromaticity[0];
    y += own * emitter.chromaticity[1];
  }
  out["chromaticity"] = Json::array({x / weight, y / weight});
}

Json fit_json(const FitSummary& fit, const DesignOutline& outline, std::size_t index,
              const scenario::Scenario& scenario) {
  Json out{{"emitter", fit.emitter}};
  out["colour"] = outline.colours.empty() ? Json() : Json(outline.colours[index]);
  if (fit.emitter_intensity.size() > 1) add_pair(fit, scenario, out);
  for (const auto& quantity : fit_quantities()) out[quantity.column] = json(fit.*quantity.estimate);
  if (fit.parameter_half_width) {
    out["duty_parameter_half_width_95"] = *fit.parameter_half_width;
    out["duty_total_half_width_95"] = total_half_width(fit);
  }
  if (fit.coupling_shift) out["duty_shift_by_coupling"] = json(*fit.coupling_shift);
  out["duty_by_tag"] = json(fit.tag_duty);
  out["on_spells"] = fit.on_spells;
  out["off_spells"] = fit.off_spells;
  out["samples_lit_by_place"] = place_rows(fit.lit_by_place);
  return out;
}

Json design_json(const DesignSummary& design, const DesignOutline& outline,
                 const scenario::Scenario& scenario) {
  Json out{{"tag_design", design.name}, {"count", outline.count}};
  Json pinned = Json::object();
  for (int s = 0; s < motion::surfaces; ++s) pinned[surface_name(s)] = json(design.pinned[s]);
  out["fits"] = Json::array();
  for (std::size_t i = 0; i < design.fits.size(); ++i)
    out["fits"].push_back(fit_json(design.fits[i], outline, i, scenario));
  out["duty_differences"] = Json::array();
  for (const auto& difference : design.differences) {
    Json entry{{"first", outline.fits[difference.first]}, {"second", outline.fits[difference.second]}};
    entry["paired"] = json(difference.paired);
    entry["unpaired_half_width_95"] = difference.unpaired_half_width;
    out["duty_differences"].push_back(entry);
  }
  out["pinned_share"] = json(design.pinned_anywhere);
  out["pinned_share_by_surface"] = pinned;
  for (const auto& quantity : design_quantities()) out[quantity.column] = json(design.*quantity.estimate);
  out["samples_by_place"] = place_rows(design.visits);
  return out;
}

Json vessel_json(const VesselSummary& vessel, const Outline& outline) {
  Json light = Json::array();
  for (std::size_t i = 0; i < outline.colours.size(); ++i) {
    light.push_back({{"colour", outline.colours[i]}, {"mean_light_cd", json(vessel.colour_intensity[i])}});
  }
  Json out{{"share_with_number_lit", json(vessel.lit_at_once)},
           {"mean_number_lit", json(vessel.mean_lit)},
           {"longest_dark_s", vessel.longest_dark},
           {"longest_dark_each_s", json(vessel.longest_dark_each)},
           {"light_by_colour", light}};
  if (vessel.uncoupled_share) out["uncoupled_share"] = json(*vessel.uncoupled_share);
  return out;
}

Json lost_json(const Summary& summary) {
  const auto count = lost_count(summary);
  Json tags = Json::array();
  for (const auto& lost : summary.lost) {
    tags.push_back({{"replicate", lost.replicate},
                    {"tag", lost.tag.tag},
                    {"time_s", static_cast<double>(lost.tag.steps) * summary.outline.clock.step},
                    {"why", flight::words(lost.tag.loss)}});
  }
  return {{"tags", count.lost}, {"of", count.tags}, {"share", count.share()}, {"each", tags}};
}

Json energy_json(const EnergySummary& energy) {
  Json out{{"source", words(energy.source)}};
  const auto terms = flight::ledger_terms();
  for (std::size_t i = 0; i < terms.size(); ++i)
    out[std::string(terms[i].name) + "_W"] = json(energy.terms[i]);
  out["worst_violation"] = energy.worst_violation;
  return out;
}

// Writes flight.h5 piece by piece.
class FlightFile {
 public:
  FlightFile(store::Writer& file, const Summary& summary, const flight::CampaignResult& campaign)
      : file_(file), summary_(summary), outline_(summary.outline), replicates_(campaign.replicates) {}

  void write() {
    const std::vector<std::int32_t> numbers(summary_.numbers.begin(), summary_.numbers.end());
    file_.write("/replicates", numbers, {numbers.size()},
                {"1", "numbers of the replicates, in the order of every [replicate]"});
    file_.write("/spells/bin_start", spell_bin_starts(), {static_cast<std::uint64_t>(flight::spell_bins)},
                {"s", "shortest length counted in a bin; the last bin also holds what is longer"});
    file_.write("/place/axes/r", edges(outline_.vessel_radius, place_r), {place_r + 1},
                {"m", "edges of the bins, distance from the vessel's axis"});
    file_.write("/place/axes/z", edges(outline_.vessel_height, place_z), {place_z + 1},
                {"m", "edges of the bins, height above the floor mesh"});
    for (std::size_t d = 0; d < outline_.designs.size(); ++d) write_design(d);
    write_vessel();
    write_traces();
    write_lost();
    write_energy();
  }

 private:
  // [replicate]
  void write_each(const std::string& path, const store::Description& description,
                  const std::function<double(const ReplicateResult&)>& value) {
    std::vector<double> values;
    for (const auto& replicate : replicates_) values.push_back(value(replicate));
    file_.write(path, values, {values.size()}, {description.unit, description.meaning + ", [replicate]"});
  }

  void write_design(std::size_t d) {
    const auto& design = summary_.designs[d];
    for (int s = 0; s < motion::surfaces; ++s) {
      write_each(
          fmt::format("/pinned/{}/{}", design.name, surface_name(s)),
          {"1", "share of the time in contact and moved less than a tag's radius within half a second"},
          [&](const auto& r) { return r.designs[d].pinned[s]; });
    }
    for (const auto& quantity : design_quantities()) {
      write_each(fmt::format("/{}/{}", quantity.name, design.name), {quantity.unit, quantity.meaning},
                 [&](const auto& r) { return r.designs[d].*quantity.value; });
    }
    file_.write(fmt::format("/place/{}/visits", design.name), design.visits, {place_r, place_z},
                {"1", "samples of tags' places, all replicates, [r bin][z bin]"}, Compression::deflate);
    for (std::size_t f = 0; f < design.fits.size(); ++f) write_fit(d, f);
  }

  void write_fit(std::size_t d, std::size_t f) {
    const auto& fit = summary_.designs[d].fits[f];
    const auto& outline = outline_.designs[d];
    const std::string of_fit = fmt::format("{}/{}", outline.name, fit.emitter);
    for (const auto& quantity : fit_quantities()) {
      if (quantity.needs == Receiver::circuit && outline.receiver == Receiver::threshold) continue;
      const std::string path = fmt::format("/{}/{}", quantity.name, of_fit);
      write_each(path, {quantity.unit, quantity.meaning},
                 [&](const auto& r) { return r.designs[d].fits[f].*quantity.value; });
      file_.set_number(path, "mean", (fit.*quantity.estimate).mean, quantity.unit);
      file_.set_number(path, "half_width_95", (fit.*quantity.estimate).half_width, quantity.unit);
    }
    if (fit.parameter_half_width)
      file_.set_number("/duty/" + of_fit, "parameter_half_width_95", *fit.parameter_half_width, "1");
    if (fit.coupling_shift) {
      write_each("/duty_shift_by_coupling/" + of_fit,
                 {"1", "duty less what it would be on the same flight without the tags' coupling"},
                 [&](const auto& r) { return r.designs[d].fits[f].coupling_shift; });
    }
    std::vector<double> by_tag;
    for (const auto& r : replicates_) {
      const auto& duty = r.designs[d].fits[f].tag_duty;
      by_tag.insert(by_tag.end(), duty.begin(), duty.end());
    }
    file_.write("/duty_by_tag/" + of_fit, by_tag,
                {replicates_.size(), static_cast<std::uint64_t>(outline.count)},
                {"1", "share of the time lit, [replicate][tag of the design]"});
    if (const std::size_t emitters = fit.emitter_intensity.size(); emitters > 1) {
      std::vector<double> light;
      for (const auto& r : replicates_) {
        const auto& own = r.designs[d].fits[f].emitter_intensity;
        light.insert(light.end(), own.begin(), own.end());
      }
      file_.write("/light_by_emitter/" + of_fit, light, {replicates_.size(), emitters},
                  {"cd", "mean luminous intensity of each LED of the pair, a tag, [replicate][LED]"});
    }
    const Extents bins{static_cast<std::uint64_t>(flight::spell_bins)};
    file_.write(fmt::format("/spells/{}/on", of_fit), fit.on_spells, bins,
                {"1", "whole lit spells by length, all replicates"});
    file_.write(fmt::format("/spells/{}/off", of_fit), fit.off_spells, bins,
                {"1", "whole dark spells by length, all replicates"});
    file_.write(fmt::format("/place/{}/lit/{}", outline.name, fit.emitter), fit.lit_by_place,
                {place_r, place_z}, {"1", "samples that were lit, all replicates, [r bin][z bin]"},
                Compression::deflate);
  }

  void write_vessel() {
    std::vector<std::int64_t> lit_at_once;
    std::vector<double> light;
    for (const auto& r : replicates_) {
      lit_at_once.insert(lit_at_once.end(), r.vessel.lit_at_once.begin(), r.vessel.lit_at_once.end());
      light.insert(light.end(), r.vessel.colour_intensity.begin(), r.vessel.colour_intensity.end());
    }
    file_.write("/vessel/lit_at_once", lit_at_once,
                {replicates_.size(), static_cast<std::uint64_t>(outline_.tags) + 1},
                {"1", "steps with so many tags lit, [replicate][0, 1, ... tags]"});
    write_each("/vessel/longest_dark", {"s", "longest time with no tag lit"},
               [](const auto& r) { return r.vessel.longest_dark; });
    if (summary_.vessel.uncoupled_share) {
      write_each("/vessel/uncoupled_share",
                 {"1",
                  "share of the steps in which the tags' coupled circuits found no common solution and were "
                  "taken as uncoupled"},
                 [](const auto& r) { return r.vessel.uncoupled_share; });
    }
    if (outline_.colours.empty()) return;
    file_.write("/vessel/light_by_colour", light, {replicates_.size(), outline_.colours.size()},
                {"cd", "mean total luminous intensity of the tags that carry a colour, [replicate][colour]"});
    for (std::size_t i = 0; i < outline_.colours.size(); ++i) {
      file_.set_text("/vessel/light_by_colour", fmt::format("colour_{}", i), outline_.colours[i]);
    }
  }

  void write_traces() {
    bool any = false;
    for (std::size_t i = 0; i < replicates_.size(); ++i) {
      if (replicates_[i].trace.time.empty()) continue;
      write_trace(fmt::format("/trace/{}/", summary_.numbers[i]), replicates_[i].trace);
      any = true;
    }
    if (!any) return;
    std::vector<std::int32_t> design_of_tag, fit_of_tag;
    for (std::size_t d = 0; d < outline_.designs.size(); ++d) {
      design_of_tag.insert(design_of_tag.end(), outline_.designs[d].count, static_cast<std::int32_t>(d));
      fit_of_tag.insert(fit_of_tag.end(), outline_.designs[d].carried.begin(),
                        outline_.designs[d].carried.end());
      file_.set_text("/trace", fmt::format("design_{}", d), outline_.designs[d].name);
    }
    file_.write("/trace/design_of_tag", design_of_tag, {design_of_tag.size()},
                {"1", "number of the tag's design, from 0, [tag]"});
    file_.write("/trace/fit_of_tag", fit_of_tag, {fit_of_tag.size()},
                {"1", "which of its design's fits a tag carries, from 0, [tag]"});
  }

  // Nothing where no tag was lost.
  void write_lost() {
    if (summary_.lost.empty()) return;
    std::vector<std::int32_t> replicate, tag, why;
    std::vector<std::int64_t> steps;
    for (const auto& lost : summary_.lost) {
      replicate.push_back(lost.replicate);
      tag.push_back(lost.tag.tag);
      why.push_back(static_cast<std::int32_t>(lost.tag.loss));
      steps.push_back(lost.tag.steps);
    }
    const Extents each{replicate.size()};
    file_.write("/lost/replicate", replicate, each, {"1", "number of the lost tag's replicate, [lost tag]"});
    file_.write("/lost/tag", tag, each, {"1", "number of the lost tag in the vessel, from 0, [lost tag]"});
    file_.write("/lost/steps", steps, each,
                {"1", "steps after warm-up that count of it, in all statistics, [lost tag]"});
    file_.write("/lost/why", why, each,
                {"1", "0: not a finite number; 1: outside the vessel; 2: faster than sound, [lost tag]"});
  }

  void write_energy() {
    if (!summary_.energy) return;
    for (const auto& term : flight::ledger_terms()) {
      write_each(fmt::format("/energy/{}", term.name), {"W", std::string(term.meaning) + ", mean power"},
                 [&](const auto& r) { return *r.ledger.*term.value; });
    }
    const std::vector<std::int32_t> source{static_cast<std::int32_t>(summary_.energy->source)};
    file_.write("/energy/source", source, {1},
                {"1", "0: the field as given; 1: the terminals of the coils; 2: the driver's supply"});
  }

  void write_trace(const std::string& group, const flight::Trace& trace) {
    const std::uint64_t samples = trace.time.size(), tags = static_cast<std::uint64_t>(outline_.tags);
    file_.write(group + "time", trace.time, {samples}, {"s", "time since the end of warm-up, [sample]"});
    const auto write_floats = [&](const char* name, const std::vector<float>& values, const Extents& extents,
                                  const char* unit, const char* meaning) {
      file_.write(group + name, std::vector<double>(values.begin(), values.end()), extents, {unit, meaning},
                  Compression::deflate);
    };
    write_floats("place", trace.place, {samples, tags, 3}, "m",
                 "tag's centre, vessel frame, [sample][tag][x y z]");
    write_floats(
        "current", trace.current, {samples, samples == 0 ? 0 : trace.current.size() / samples}, "A",
        "LED's mean current since the sample before, 0 for a plain threshold, [sample][slot]: the slots of a "
        "tag are its fits, then the second LEDs of those that are antiparallel pairs; tags in their order");
    write_floats("velocity", trace.velocity, {samples, tags, 3}, "m/s",
                 "tag's velocity, vessel frame, [sample][tag][x y z]");
    write_floats("axis", trace.axis, {samples, tags, 3}, "1",
                 "axis of the tag's coil, vessel frame, [sample][tag][x y z]");
    const bool plain = outline_.designs.front().receiver == Receiver::threshold;
    write_floats("linkage", trace.linkage, {samples, tags}, plain ? "T" : "Wb",
                 "peak flux linkage of the tag's coil with the drive's field alone, whether or not tags "
                 "couple, or peak of "
                 "B.n in T for a plain threshold, [sample][tag]");
    file_.write(group + "lit", trace.lit, {samples, tags},
                {"1", "bit f is set when lit with fit f of the tag's design, [sample][tag]"},
                Compression::deflate);
  }

  store::Writer& file_;
  const Summary& summary_;
  const Outline& outline_;
  const std::vector<ReplicateResult>& replicates_;
};

}  // namespace

std::string csv_field(std::string_view text) {
  if (text.find_first_of(",\"\r\n") == std::string_view::npos) return std::string(text);
  std::string quoted = "\"";
  for (const char c : text) {
    if (c == '"') quoted += '"';
    quoted += c;
  }
  return quoted + '"';
}

std::string summary_csv(const Summary& summary) {
  std::string text =
      "tag_design,emitter,duty,duty_low_95,duty_high_95,flashes_per_minute,mean_on_s,mean_off_s,mean_current_"
      "A,mean_light_cd,"
      "pinned_share,over_ratings_share,replicates,input_power_W,energy_worst_violation";
  if (summary.parameters) text += ",duty_parameter_half_width_95,duty_total_half_width_95";
  text += "\n";
  for (const auto& design : summary.designs) {
    for (const auto& fit : design.fits) {
      text += fmt::format(
          "{},{},{},{},{},{},{},{},{},{},{},{},{}", csv_field(design.name), csv_field(fit.emitter),
          csv_number(fit.duty.mean), csv_number(fit.duty.mean - fit.duty.half_width),
          csv_number(fit.duty.mean + fit.duty.half_width), csv_number(fit.flashes_per_minute.mean),
          csv_number(fit.mean_on_spell.mean), csv_number(fit.mean_off_spell.mean),
          csv_number(fit.mean_current.mean), csv_number(fit.mean_intensity.mean),
          csv_number(design.pinned_anywhere.mean), csv_number(fit.over_rating.mean), summary.numbers.size());
      const auto& energy = summary.energy;
      text += fmt::format(",{},{}", energy ? csv_number(energy->terms.front().mean) : "",
                          energy ? csv_number(energy->worst_violation) : "");
      if (fit.parameter_half_width)
        text +=
            fmt::format(",{},{}", csv_number(*fit.parameter_half_width), csv_number(total_half_width(fit)));
      text += "\n";
    }
  }
  return text;
}

Json summary_document(const Summary& summary, const scenario::Scenario& scenario,
                      const std::string& program_version) {
  const auto& outline = summary.outline;
  Json out{{"format_version", store::json_format},
           {"program_version", program_version},
           {"scenario", scenario.name},
           {"title", scenario.title},
           {"scenario_sha256", scenario.hash},
           {"seed", outline.seed},
           {"replicates", summary.numbers.size()},
           {"replicate_numbers", summary.numbers},
           {"interrupted", summary.interrupted},
           {"lost", lost_json(summary)},
           {"duration_s", static_cast<double>(outline.clock.duration) * outline.clock.step},
           {"warmup_s", static_cast<double>(outline.clock.warmup) * outline.clock.step},
           {"step_s", outline.clock.step},
           {"tags", outline.tags}};
  if (const auto& parameters = summary.parameters)
    out["parameters"] = {{"tuned_by", parameters->readings}, {"values", parameters->values}};
  out["tag_designs"] = Json::array();
  for (std::size_t d = 0; d < summary.designs.size(); ++d) {
    out["tag_designs"].push_back(design_json(summary.designs[d], outline.designs[d], scenario));
  }
  out["vessel"] = vessel_json(summary.vessel, outline);
  if (summary.energy) out["energy"] = energy_json(*summary.energy);
  out["spell_bin_start_s"] = spell_bin_starts();
  out["place_r_edges_m"] = edges(outline.vessel_radius, place_r);
  out["place_z_edges_m"] = edges(outline.vessel_height, place_z);
  return out;
}

std::string summary_json(const Summary& summary, const scenario::Scenario& scenario,
                         const std::string& program_version) {
  return summary_document(summary, scenario, program_version)
             .dump(1, ' ', false, Json::error_handler_t::replace) +
         "\n";
}

void write_flight(const std::filesystem::path& path, const Summary& summary,
                  const flight::CampaignResult& campaign, const scenario::Scenario& scenario,
                  const Setting* setting, const std::string& program_version, const store::Run& run) {
  store::Writer file(path, {program_version, scenario.text, scenario.hash, summary.outline.seed});
  write_head(file, head_of(campaign, scenario));
  FlightFile(file, summary, campaign).write();
  if (setting) write_setting(file, *setting);
  file.commit(run);
}

void write_results(const std::filesystem::path& folder, const Summary& summary,
                   const flight::CampaignResult& campaign, const scenario::Scenario& scenario,
                   const Setting& setting, const std::string& program_version, const store::Run& run) {
  write_flight(folder / "flight.h5", summary, campaign, scenario, &setting, program_version, run);
  store::write_text_atomically(folder / "summary.json", summary_json(summary, scenario, program_version));
  store::write_text_atomically(folder / "summary.csv", summary_csv(summary));
}

}  // namespace driftglow::results
