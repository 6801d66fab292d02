#include "sim/results/setting.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "models/error.hpp"

namespace driftglow::results {
namespace {

using Json = nlohmann::ordered_json;

constexpr const char* remedy = "fly the scenario again";

Json json_of(const DesignOutline& design) {
  return {{"name", design.name},
          {"count", design.count},
          {"plain_threshold", design.receiver == Receiver::threshold},
          {"fits", design.fits},
          {"colours", design.colours},
          {"carried", design.carried}};
}

DesignOutline design_from(const Json& json) {
  return {json.at("name"),
          json.at("count"),
          json.at("plain_threshold").get<bool>() ? Receiver::threshold : Receiver::circuit,
          json.at("fits"),
          json.at("colours"),
          json.at("carried")};
}

Json json_of(const Outline& outline) {
  const auto& clock = outline.clock;
  Json designs = Json::array();
  for (const auto& design : outline.designs) designs.push_back(json_of(design));
  return {{"seed", outline.seed},
          {"vessel_radius_m", outline.vessel_radius},
          {"vessel_height_m", outline.vessel_height},
          {"step_s", clock.step},
          {"steps", {clock.warmup, clock.duration, clock.place_every, clock.pinned_every, clock.trace_every}},
          {"designs", designs},
          {"colours", outline.colours},
          {"tags", outline.tags}};
}

Outline outline_from(const Json& json) {
  const auto steps = json.at("steps").get<std::array<std::int64_t, 5>>();
  Outline outline{json.at("seed"),
                  json.at("vessel_radius_m"),
                  json.at("vessel_height_m"),
                  {json.at("step_s"), steps[0], steps[1], steps[2], steps[3], steps[4]},
                  {},
                  json.at("colours"),
                  json.at("tags")};
  for (const auto& design : json.at("designs")) outline.designs.push_back(design_from(design));
  return outline;
}

Json json_of(const Setting& setting) {
  Json coils = Json::array(), metal = Json::array(), glow = Json::array();
  for (const auto& coil : setting.coils) {
    coils.push_back({{"name", coil.name},
                     {"centre_m", coil.centre},
                     {"axis", coil.axis},
                     {"turns_m", coil.turns},
                     {"wire_radius_m", coil.wire_radius}});
  }
  for (const auto& part : setting.metal) {
    metal.push_back({{"name", part.name},
                     {"radius_m", part.radius},
                     {"low_m", part.low},
                     {"high_m", part.high},
                     {"half_thickness_m", part.half_thickness},
                     {"rods", part.rods}});
  }
  for (const auto& design : setting.glow) {
    Json fits = Json::array();
    for (const auto& fit : design)
      fits.push_back({{"xyz_cd_per_A", fit.xyz_per_current}, {"on_current_A", fit.on_current}});
    glow.push_back(fits);
  }
  return {{"title", setting.title},
          {"name", setting.name},
          {"outline", json_of(setting.outline)},
          {"sheet", setting.sheet},
          {"cautions", setting.cautions},
          {"glow", glow},
          {"tag_radius_m", setting.tag_radius},
          {"coil_radius_m", setting.coil_radius},
          {"flashes_count", setting.flashes_count},
          {"coils", coils},
          {"metal", metal}};
}

Setting setting_from(const Json& json) {
  Setting setting{};
  setting.title = json.at("title");
  setting.name = json.at("name");
  setting.outline = outline_from(json.at("outline"));
  setting.sheet = json.at("sheet");
  setting.cautions = json.at("cautions").get<std::vector<std::string>>();
  for (const auto& design : json.at("glow")) {
    auto& fits = setting.glow.emplace_back();
    for (const auto& fit : design)
      fits.push_back({fit.at("xyz_cd_per_A").get<std::array<double, 3>>(), fit.at("on_current_A")});
  }
  setting.tag_radius = json.at("tag_radius_m").get<std::vector<double>>();
  setting.coil_radius = json.at("coil_radius_m").get<std::vector<double>>();
  setting.flashes_count = json.at("flashes_count").get<std::vector<std::uint8_t>>();
  for (const auto& coil : json.at("coils")) {
    setting.coils.push_back({coil.at("name"), coil.at("centre_m").get<std::array<double, 3>>(),
                             coil.at("axis").get<std::array<double, 3>>(),
                             coil.at("turns_m").get<std::vector<std::array<double, 2>>>(),
                             coil.at("wire_radius_m")});
  }
  for (const auto& part : json.at("metal")) {
    setting.metal.push_back({part.at("name"), part.at("radius_m"), part.at("low_m"), part.at("high_m"),
                             part.at("half_thickness_m"), part.at("rods")});
  }
  return setting;
}

void write_axes(store::Writer& file, const std::string& group, const Grid& grid, const char* first) {
  for (int axis = 0; axis < 2; ++axis) {
    std::vector<double> nodes;
    for (int i = 0; i < grid.nodes[axis]; ++i) nodes.push_back(grid.at(axis, i));
    file.write(fmt::format("{}/{}", group, axis == 0 ? first : "z"), nodes, {nodes.size()},
               {"m", axis == 0 ? "distance from the vessel's axis" : "height above the floor mesh"});
  }
}

Grid read_axes(const store::Reader& file, const std::string& group, const char* first) {
  Grid grid{};
  for (int axis = 0; axis < 2; ++axis) {
    const auto nodes = file.read<double>(fmt::format("{}/{}", group, axis == 0 ? first : "z"), 1).values;
    if (nodes.size() < 2) throw InputError(group + ": no grid; " + remedy);
    grid.low[axis] = nodes.front();
    grid.high[axis] = nodes.back();
    grid.nodes[axis] = static_cast<int>(nodes.size());
  }
  return grid;
}

std::vector<double> on_grid(const store::Reader& file, const std::string& path, const Grid& grid) {
  auto values = file.read<double>(path, 2).values;
  if (values.size() != grid.size()) throw InputError(path + ": does not fit its axes; " + remedy);
  return values;
}

// Reads the results back as they were written by files.cpp.
class FlightReader {
 public:
  FlightReader(const store::Reader& file, const Outline& outline) : file_(file), outline_(outline) {}

  flight::CampaignResult read() {
    const auto numbers = file_.read<std::int32_t>("/replicates", 1).values;
    flight::CampaignResult campaign{};
    campaign.numbers.assign(numbers.begin(), numbers.end());
    campaign.interrupted = file_.integer("/report", "interrupted") != 0;
    campaign.replicates.resize(numbers.size());
    for (auto& replicate : campaign.replicates) replicate.designs.resize(outline_.designs.size());
    replicates_ = &campaign.replicates;
    for (std::size_t d = 0; d < outline_.designs.size(); ++d) read_design(d);
    read_vessel();
    for (std::size_t i = 0; i < numbers.size(); ++i) {
      const std::string group = fmt::format("/trace/{}", numbers[i]);
      if (file_.has(group)) read_trace(group + "/", campaign.replicates[i].trace);
    }
    return campaign;
  }

 private:
  // One value a replicate, to where `place(replicate)` says.
  void read_each(const std::string& path, const auto& place) {
    const auto values = rows<double>(path, 1, 1);
    for (std::size_t i = 0; i < replicates_->size(); ++i) place((*replicates_)[i]) = values[i];
  }

  template <class T>
  std::vector<T> rows(const std::string& path, std::size_t rank, std::size_t each) const {
    auto values = file_.read<T>(path, rank).values;
    if (values.size() != each * replicates_->size())
      throw InputError(path + ": another number of values than its replicates ask for; " + remedy);
    return values;
  }

  void read_design(std::size_t d) {
    const auto& outline = outline_.designs[d];
    for (int s = 0; s < motion::surfaces; ++s) {
      read_each(fmt::format("/pinned/{}/{}", outline.name, surface_name(s)),
                [&](auto& r) -> double& { return r.designs[d].pinned[s]; });
    }
    for (const auto& quantity : design_quantities()) {
      read_each(fmt::format("/{}/{}", quantity.name, outline.name),
                [&](auto& r) -> double& { return r.designs[d].*quantity.value; });
    }
    for (auto& replicate : *replicates_) {
      replicate.designs[d].visits.assign(places, 0);
      replicate.designs[d].fits.resize(outline.fits.size());
    }
    summed(fmt::format("/place/{}/visits", outline.name), 2, replicates_->front().designs[d].visits);
    for (std::size_t f = 0; f < outline.fits.size(); ++f) read_fit(d, f);
  }

  void read_fit(std::size_t d, std::size_t f) {
    const auto& outline = outline_.designs[d];
    const std::string of_fit = fmt::format("{}/{}", outline.name, outline.fits[f]);
    for (const auto& quantity : fit_quantities()) {
      if (quantity.needs == Receiver::circuit && outline.receiver == Receiver::threshold) continue;
      read_each(fmt::format("/{}/{}", quantity.name, of_fit),
                [&](auto& r) -> double& { return r.designs[d].fits[f].*quantity.value; });
    }
    const auto by_tag = rows<double>("/duty_by_tag/" + of_fit, 2, outline.count);
    for (std::size_t i = 0; i < replicates_->size(); ++i) {
      auto& fit = (*replicates_)[i].designs[d].fits[f];
      fit.tag_duty.assign(by_tag.begin() + i * outline.count, by_tag.begin() + (i + 1) * outline.count);
      fit.lit_by_place.assign(places, 0);
    }
    auto& first = replicates_->front().designs[d].fits[f];
    summed(fmt::format("/spells/{}/on", of_fit), 1, first.on_spells);
    summed(fmt::format("/spells/{}/off", of_fit), 1, first.off_spells);
    summed(fmt::format("/place/{}/lit/{}", outline.name, outline.fits[f]), 2, first.lit_by_place);
  }

  void summed(const std::string& path, std::size_t rank, auto& to) const {
    const auto values = file_.read<std::int64_t>(path, rank).values;
    if (values.size() != to.size()) throw InputError(path + ": another number of bins; " + remedy);
    std::copy(values.begin(), values.end(), to.begin());
  }

  void read_vessel() {
    const std::size_t levels = static_cast<std::size_t>(outline_.tags) + 1, colours = outline_.colours.size();
    const auto lit = rows<std::int64_t>("/vessel/lit_at_once", 2, levels);
    const auto light =
        colours > 0 ? rows<double>("/vessel/light_by_colour", 2, colours) : std::vector<double>();
    for (std::size_t i = 0; i < replicates_->size(); ++i) {
      auto& vessel = (*replicates_)[i].vessel;
      vessel.lit_at_once.assign(lit.begin() + i * levels, lit.begin() + (i + 1) * levels);
      vessel.colour_intensity.assign(light.begin() + i * colours, light.begin() + (i + 1) * colours);
    }
    read_each("/vessel/longest_dark", [](auto& r) -> double& { return r.vessel.longest_dark; });
  }

  void read_trace(const std::string& group, flight::Trace& trace) const {
    trace.time = file_.read<double>(group + "time", 1).values;
    const auto floats = [&](const char* name, std::size_t rank, std::size_t each, std::vector<float>& to) {
      const auto values = file_.read<double>(group + name, rank).values;
      if (values.size() != each * trace.time.size())
        throw InputError(group + name + ": does not fit its samples; " + remedy);
      to.resize(values.size());
      std::transform(values.begin(), values.end(), to.begin(),
                     [](double x) { return static_cast<float>(x); });
    };
    const std::size_t tags = outline_.tags;
    std::size_t slots = 0;
    for (const auto& design : outline_.designs) slots += design.count * design.fits.size();
    floats("place", 3, 3 * tags, trace.place);
    floats("velocity", 3, 3 * tags, trace.velocity);
    floats("axis", 3, 3 * tags, trace.axis);
    floats("linkage", 2, tags, trace.linkage);
    floats("current", 2, slots, trace.current);
    trace.lit = file_.read<std::uint8_t>(group + "lit", 2).values;
  }

  static constexpr std::size_t places = flight::place_r_bins * flight::place_z_bins;
  const store::Reader& file_;
  const Outline& outline_;
  std::vector<flight::ReplicateResult>* replicates_ = nullptr;
};

}  // namespace

void write_setting(store::Writer& file, const Setting& setting) {
  const std::string text = json_of(setting).dump(-1, ' ', false, Json::error_handler_t::replace);
  const std::vector<std::uint8_t> bytes(text.begin(), text.end());
  file.write("/report/setting", bytes, {bytes.size()},
             {"1", "what a report shows beside the replicates: JSON text in UTF-8"},
             store::Compression::deflate);
  const auto write_on = [&](const std::string& path, const std::vector<double>& values, const Grid& grid,
                            const store::Description& description) {
    file.write(path, values,
               {static_cast<std::uint64_t>(grid.nodes[0]), static_cast<std::uint64_t>(grid.nodes[1])},
               description, store::Compression::deflate);
  };
  write_axes(file, "/report/field", setting.section, "x");
  write_on("/report/field/flux_density", setting.flux_density, setting.section,
           {"T", "peak of |B| in the plane y = 0, [x][z]"});
  write_axes(file, "/report/air", setting.half_section, "r");
  write_on("/report/air/u_r", setting.u_r, setting.half_section, {"m/s", "mean velocity, outward, [r][z]"});
  write_on("/report/air/u_theta", setting.u_theta, setting.half_section,
           {"m/s", "mean velocity, around, [r][z]"});
  write_on("/report/air/u_z", setting.u_z, setting.half_section, {"m/s", "mean velocity, up, [r][z]"});
}

Setting read_setting(const store::Reader& file) {
  const auto bytes = file.read<std::uint8_t>("/report/setting", 1).values;
  Setting setting;
  try {
    setting = setting_from(Json::parse(bytes.begin(), bytes.end()));
  } catch (const nlohmann::json::exception&) {
    throw InputError(std::string("/report/setting: not as this program writes it; ") + remedy);
  }
  setting.section = read_axes(file, "/report/field", "x");
  setting.flux_density = on_grid(file, "/report/field/flux_density", setting.section);
  setting.half_section = read_axes(file, "/report/air", "r");
  setting.u_r = on_grid(file, "/report/air/u_r", setting.half_section);
  setting.u_theta = on_grid(file, "/report/air/u_theta", setting.half_section);
  setting.u_z = on_grid(file, "/report/air/u_z", setting.half_section);
  return setting;
}

StoredFlight read_flight(const std::filesystem::path& path) {
  const store::Reader file(path, remedy);
  if (!file.has("/report/setting"))
    throw InputError(path.string() + ": holds no flight that a report can be made of; expected a flight.h5");
  StoredFlight stored{file.origin(), read_setting(file), {}};
  stored.campaign = FlightReader(file, stored.setting.outline).read();
  return stored;
}

}  // namespace driftglow::results
