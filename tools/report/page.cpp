#include "tools/report/page.hpp"

#include <fmt/format.h>

#include <cctype>
#include <string_view>

#include "sim/store/digest.hpp"
#include "tools/report/markup.hpp"
#include "tools/report/replay_data.hpp"
#include "tools/report/style_sheet.hpp"

namespace driftglow::report {
namespace {

// A hash-source of a content security policy.
std::string policy_hash(std::string_view text) {
  const std::string hex = store::sha256_hex(text);
  std::string bytes;
  for (std::size_t i = 0; i < hex.size(); i += 2)
    bytes += static_cast<char>(std::stoi(hex.substr(i, 2), nullptr, 16));
  return "'sha256-" + base64(bytes) + "'";
}

// Titles are this program's own words.
std::string anchor(const std::string& title) {
  std::string id = "part-";
  for (const char c : title)
    id += std::isalnum(static_cast<unsigned char>(c)) != 0
              ? static_cast<char>(std::tolower(static_cast<unsigned char>(c)))
              : '-';
  return id;
}

}  // namespace

std::string render_page(const std::string& kind, const std::string& title, const std::string& head,
                        const std::vector<PageSection>& sections, const std::string& foot) {
  const std::string style = "/*<![CDATA[*/" + std::string(style_sheet()) + "/*]]>*/",
                    script = "/*<![CDATA[*/" + std::string(page_script()) + "/*]]>*/";
  std::string links, body;
  for (const auto& section : sections) {
    if (section.markup.empty()) continue;
    const std::string id = anchor(section.title), name = escape(section.title);
    links += fmt::format("<li><a href=\"#{}\">{}</a></li>", id, name);
    body += fmt::format("<section aria-labelledby=\"{0}\"><h2 id=\"{0}\">{1}</h2>\n", id, name) +
            section.markup + "</section>\n";
  }
  return "<!DOCTYPE html>\n<html lang=\"en\" xmlns=\"http://www.w3.org/1999/xhtml\"><head><meta "
         "charset=\"utf-8\"/>\n"
         "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src " +
         policy_hash(style) + "; script-src " + policy_hash(script) +
         "; base-uri 'none'; form-action 'none'\"/>\n<meta name=\"viewport\" content=\"width=device-width, "
         "initial-scale=1\"/>\n<meta name=\"referrer\" content=\"no-referrer\"/>\n<title>" +
         escape(title) + "</title>\n<style>" + style +
         "</style></head>\n<body><main>\n<header><p class=\"kicker\">driftglow: " + escape(kind) + "</p>" +
         heading(1, title) + head + "</header>\n<nav aria-label=\"On this page\"><ul>" + links +
         "</ul></nav>\n" + body + "<footer>" + foot +
         paragraph(
             "A calculation, not a measurement: check the first built tag on the bench and in the air before "
             "the "
             "rest are made.",
             "soft") +
         "</footer>\n</main><div id=\"bubble\" hidden=\"hidden\" aria-hidden=\"true\"></div><div "
         "id=\"readout\" role=\"status\"></div>\n<script>" +
         script + "</script></body></html>\n";
}

}  // namespace driftglow::report
