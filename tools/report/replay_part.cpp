#include "tools/report/replay_part.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "models/light/screen_colour.hpp"
#include "tools/report/markup.hpp"
#include "tools/report/replay_data.hpp"

namespace driftglow::report {
namespace {

using Json = nlohmann::ordered_json;
using results::Setting;
using results::Summary;

// What the mean lit sample shows, in octaves: its core nearly saturates the screen.
constexpr double shown_octaves = 2.0;

// Mean over the lit samples of all fits of the logarithm of the light [octaves above 1 cd].
double typical_light(const Setting& setting, const flight::Trace& trace) {
  double sum = 0.0;
  std::size_t slot = 0, count = 0;
  const std::size_t slots = trace.time.empty() ? 0 : trace.current.size() / trace.time.size();
  for (std::size_t d = 0; d < setting.glow.size(); ++d) {
    const auto& fits = setting.glow[d];
    for (int n = 0; n < setting.outline.designs[d].count; ++n, slot += results::trace_slots(fits)) {
      for (std::size_t f = 0; f < fits.size(); ++f) {
        for (std::size_t i = 0; i < trace.time.size(); ++i) {
          double share = 0.0, intensity = 0.0;
          for (std::size_t led = 0; led < fits[f].size(); ++led) {
            const double current = trace.current[i * slots + slot + results::trace_slot(fits, f, led)];
            share += current / fits[f][led].on_current;
            intensity += current * fits[f][led].xyz_per_current[1];
          }
          if (share < 1.0) continue;
          sum += std::log2(intensity);
          ++count;
        }
      }
    }
  }
  return count == 0 ? 0.0 : sum / static_cast<double>(count);
}

Json fit_json(const std::string& name, const results::FitLook& look, double typical) {
  Json leds = Json::array();
  if (look.empty()) leds.push_back({{"rgb", {1.0, 1.0, 1.0}}, {"octaves", 0.0}});
  for (const auto& led : look) {
    const double luminous = led.xyz_per_current[1];
    auto xyz = led.xyz_per_current;
    for (double& value : xyz) value /= luminous;
    leds.push_back({{"rgb", light::screen_colour(xyz)},
                    {"octaves", std::log2(led.on_current * luminous) - typical + shown_octaves}});
  }
  return {{"name", name}, {"leds", leds}};
}

// Flashes a second of a tag that flashes most, with fit f of each design; none: as carried.
double flashes(const Setting& setting, const Summary& summary, std::optional<std::size_t> fit) {
  double most = 0.0;
  for (std::size_t d = 0; d < summary.designs.size(); ++d) {
    const auto& fits = summary.designs[d].fits;
    if (setting.flashes_count[d] == 0) continue;
    for (std::size_t f = 0; f < fits.size(); ++f) {
      const auto& carried = setting.outline.designs[d].carried;
      const bool shown =
          fit ? f == std::min(*fit, fits.size() - 1)
              : std::find(carried.begin(), carried.end(), static_cast<int>(f)) != carried.end();
      if (shown) most = std::max(most, fits[f].flashes_per_minute.mean / 60.0);
    }
  }
  return most;
}

std::size_t most_fits(const Setting& setting) {
  std::size_t most = 0;
  for (const auto& design : setting.outline.designs) most = std::max(most, design.fits.size());
  return most;
}

std::string fit_label(const Setting& setting, std::size_t fit) {
  std::string label;
  for (const auto& design : setting.outline.designs) {
    const auto& name = design.fits[std::min(fit, design.fits.size() - 1)];
    label += (label.empty() ? "all " : ", ") +
             (setting.outline.designs.size() > 1 ? design.name + ": " + name : name);
  }
  return label;
}

std::string data_json(const Setting& setting, const Summary& summary, const flight::Trace& trace,
                      const ReplayData& packed) {
  const double typical = typical_light(setting, trace);
  Json tags = Json::array(), carried = Json::array(), designs = Json::array(), coils = Json::array(),
       metal = Json::array();
  double reach = setting.outline.vessel_radius;
  for (std::size_t d = 0; d < setting.outline.designs.size(); ++d) {
    const auto& outline = setting.outline.designs[d];
    for (int tag = 0; tag < outline.count; ++tag) {
      tags.push_back(d);
      carried.push_back(outline.carried.empty() ? 0 : outline.carried[tag]);
    }
    Json fits = Json::array();
    for (std::size_t f = 0; f < outline.fits.size(); ++f)
      fits.push_back(fit_json(outline.fits[f], setting.glow[d][f], typical));
    designs.push_back({{"name", outline.name},
                       {"radius", std::max(setting.tag_radius[d], 0.01 * setting.outline.vessel_radius)},
                       {"coil", setting.coil_radius[d]},
                       {"fits", fits}});
  }
  for (const auto& coil : setting.coils) {
    // More rings than a score look no different.
    Json turns = Json::array();
    const std::size_t step = coil.turns.size() / 20 + 1;
    for (std::size_t i = 0; i < coil.turns.size(); i += step) {
      turns.push_back(coil.turns[i]);
      reach = std::max(reach, coil.turns[i][1]);
    }
    coils.push_back({{"centre", coil.centre}, {"axis", coil.axis}, {"turns", turns}});
  }
  for (const auto& part : setting.metal)
    metal.push_back({{"radius", part.radius}, {"low", part.low}, {"high", part.high}, {"rods", part.rods}});
  Json rates{{"carried", flashes(setting, summary, {})}};
  for (std::size_t f = 0; f < most_fits(setting); ++f)
    rates[fmt::format("{}", f)] = flashes(setting, summary, f);
  const Json json{{"file", setting.name},
                  {"frames", packed.frames},
                  {"interval", packed.interval},
                  {"placeStep", place_step},
                  {"axisScale", axis_scale},
                  {"lightZero", light_zero},
                  {"lightPerOctave", light_per_octave},
                  {"vessel",
                   {{"radius", setting.outline.radius_at(0.0)},
                    {"topRadius", setting.outline.radius_at(setting.outline.vessel_height)},
                    {"height", setting.outline.vessel_height}}},
                  {"reach", reach},
                  {"tags", tags},
                  {"carried", carried},
                  {"designs", designs},
                  {"coils", coils},
                  {"metal", metal},
                  {"flashes", rates},
                  {"packed", packed.packed}};
  return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

std::string option(const std::string& value, const std::string& text) {
  return fmt::format("<option value=\"{}\">{}</option>", value, escape(text));
}

std::string controls(const Setting& setting, const ReplayData& packed) {
  std::string fits = option("carried", "as the mix carries them");
  for (std::size_t f = 0; f < most_fits(setting); ++f)
    fits += option(fmt::format("{}", f), fit_label(setting, f));
  std::string speeds;
  for (const auto& [value, text] : {std::pair{"0.03125", "1/32"},
                                    {"0.0625", "1/16"},
                                    {"0.125", "1/8"},
                                    {"0.25", "1/4"},
                                    {"0.5", "1/2"},
                                    {"1", "real time"},
                                    {"2", "2 times"}})
    speeds += option(value, text);
  std::string shutters;
  const double whole = static_cast<double>(packed.frames - 1) * packed.interval;
  for (const double seconds : {0.5, 1.0, 2.0, 5.0, 10.0})
    if (seconds < whole) shutters += option(fmt::format("{:g}", seconds), fmt::format("{:g} s", seconds));
  shutters += option(fmt::format("{}", whole), fmt::format("all {:.3g} s", whole));
  return "<div class=\"controls\">"
         "<div class=\"row\"><button type=\"button\" data-part=\"play\" class=\"main\">Play</button>"
         "<input data-part=\"scrub\" type=\"range\" min=\"0\" max=\"" +
         fmt::format("{}", packed.frames - 1) +
         "\" value=\"0\" aria-label=\"time in the flight\"/>"
         "<output data-part=\"clock\">0.00 s</output></div>\n"
         "<div class=\"row\"><label>emitters <select data-part=\"fits\">" +
         fits + "</select></label><label>speed <select data-part=\"speed\">" + speeds +
         "</select></label><label>brightness <input data-part=\"exposure\" type=\"range\" min=\"-3\" "
         "max=\"3\" "
         "step=\"0.5\" value=\"0\"/></label><button type=\"button\" data-part=\"home\">Reset "
         "view</button></div>\n"
         "<div class=\"row\"><label>shutter <select data-part=\"shutter\">" +
         shutters +
         "</select></label><button type=\"button\" data-part=\"gather\">Long exposure</button>"
         "<button type=\"button\" data-part=\"save\">Save PNG</button></div></div>\n";
}

}  // namespace

std::string script_safe(const std::string& json) {
  std::string out;
  for (std::size_t i = 0; i < json.size(); ++i) {
    const char c = json[i];
    if (c == '<' || c == '>' || c == '&') {
      out += fmt::format("\\u{:04x}", static_cast<unsigned>(c));
    } else if (json.compare(i, 3, "\u2028") == 0 || json.compare(i, 3, "\u2029") == 0) {
      out += json.compare(i, 3, "\u2028") == 0 ? "\\u2028" : "\\u2029";
      i += 2;
    } else {
      out += c;
    }
  }
  return out;
}

std::string replay_part(const Setting& setting, const Summary& summary, const flight::Trace* trace) {
  if (trace == nullptr || trace->time.size() < 2) {
    return paragraph(
        "Nothing was recorded: with flight.trace.replicates at 1 or more the flight can be replayed here.",
        "soft");
  }
  const auto packed = replay_data(setting, *trace);
  const std::string out =
      "<p class=\"why\">It stands still until you press Play: the tags flash, and flashing light can trigger "
      "seizures in some people. It begins in slow motion where a tag flashes more than three times a "
      "second.</p>\n<noscript><p class=\"soft\">The replay needs the page's own script.</p></noscript>\n"
      "<p id=\"replay-fault\" class=\"soft\" hidden=\"hidden\">This browser cannot show the replay.</p>\n"
      "<div id=\"replay\" hidden=\"hidden\"><div class=\"stage\"><canvas data-part=\"canvas\" tabindex=\"0\" "
      "role=\"img\" aria-label=\"The vessel with its coils and glowing tags, seen from outside\" "
      "aria-describedby=\"replay-keys\"></canvas><div class=\"hud\"><span "
      "data-part=\"status\"></span></div></div>\n"
      "<label class=\"consent\" data-part=\"consent\" hidden=\"hidden\"><input type=\"checkbox\"/> Your "
      "system asks for less "
      "motion. Play all the same; the slider and the long exposure work without.</label>\n" +
      controls(setting, packed) +
      "<p class=\"warning\" data-part=\"warning\"></p>\n"
      "<p class=\"soft\" id=\"replay-keys\">Drag or use the arrow keys on the picture to walk round it, + "
      "and − (or "
      "Ctrl and the wheel) to come nearer, Home to reset, Space to play.</p>\n";
  std::string notes =
      "One recorded flight; every choice of emitters shows the same one. A glow has its emitter's colour: "
      "CIE 1931 "
      "chromaticity to sRGB, what a screen cannot show mixed with white of the same luminance until it can. "
      "Brightness is each LED's mean light between two recorded pictures, as seen along its axis, on a scale "
      "common to "
      "all emitters.";
  if (packed.frames < packed.recorded)
    notes += fmt::format(" To keep the page small it shows the first {:.3g} s of {:.3g} s recorded.",
                         static_cast<double>(packed.frames) * packed.interval,
                         static_cast<double>(packed.recorded) * packed.interval);
  return out + "<p class=\"soft\">" + escape(notes) +
         "</p></div>\n<script type=\"application/json\" id=\"replay-data\">" +
         script_safe(data_json(setting, summary, *trace, packed)) + "</script>\n";
}

}  // namespace driftglow::report
