#include "tools/driftglow/manual.hpp"

#include <fmt/format.h>

#include <sstream>

#include "sim/scenario/keys.hpp"
#include "tools/driftglow/options.hpp"

namespace driftglow::program {
namespace {

// Literal text: characters that roff gives a meaning or another shape.
std::string literal(const std::string& text) {
  std::string result;
  bool begins = true;
  for (const char c : text) {
    if (begins && (c == '.' || c == '\'')) result += "\\&";
    switch (c) {
      case '\\':
        result += "\\e";
        break;
      case '-':
        result += "\\-";
        break;
      case '`':
        result += "\\(ga";
        break;
      case '\'':
        result += "\\(aq";
        break;
      case '^':
        result += "\\(ha";
        break;
      case '~':
        result += "\\(ti";
        break;
      default:
        result += c;
    }
    begins = c == '\n';
  }
  return result;
}

std::string bold(const std::string& text) {
  return "\\fB" + literal(text) + "\\fR";
}
std::string placeholder(const std::string& text) {
  return "\\fI" + literal(text) + "\\fR";
}

std::string entry(const std::string& head, const std::string& text) {
  return ".TP\n" + head + "\n" + literal(text) + "\n";
}

std::string options(const CommandRow& row) {
  std::string text;
  for (const auto& argument : row.positionals) text += entry(placeholder(argument.name), argument.meaning);
  for (const auto& option : row.options)
    text += entry(bold(option.name) + (option.argument.empty() ? "" : " " + placeholder(option.argument)),
                  option.meaning);
  return text;
}

// A line of the footer is a paragraph, set as it stands.
std::string footer(const CommandRow& row) {
  std::string text;
  std::istringstream lines(row.footer);
  for (std::string line; std::getline(lines, line);) text += ".br\n" + literal(line) + "\n";
  return text.empty() ? text : ".PP\n" + text.substr(4);
}

std::string commands(const std::vector<CommandRow>& table) {
  std::string text = ".SH COMMANDS\n";
  for (const auto& row : table) {
    if (row.name.empty()) continue;
    text += ".SS driftglow " + row.name;
    for (const auto& positional : row.positionals)
      text += " " + literal(positional.name) + (positional.repeats == ArgumentRow::Repeats::yes ? "..." : "");
    text += "\n" + literal(row.meaning) + "\n" + options(row) + footer(row);
  }
  return text;
}

std::string keys() {
  std::string text =
      ".SH KEYS\n"
      "Of scenario files; of studies below \\(lqstudy\\(rq, of readings below \\(lqbench\\(rq. "
      "\\(lq[]\\(rq stands for each item of a list.\n";
  for (const auto& key : scenario::key_texts()) {
    text += entry(bold(key.path), fmt::format("{}. {}; {}.", key.meaning, key.type, key.standing));
    if (!key.example.empty()) text += ".br\n" + literal(key.example) + "\n";
  }
  return text;
}

}  // namespace

std::string manual_page(const std::vector<CommandRow>& table) {
  const auto& own = table.front();
  std::string text = fmt::format(".TH DRIFTGLOW 1 \"\" \"driftglow {}\" \"User commands\"\n", version);
  text +=
      ".SH NAME\n"
      "driftglow \\- simulate drifting LED tags lit by a coil\\(aqs field in an air column\n"
      ".SH SYNOPSIS\n"
      ".B driftglow\n"
      ".I COMMAND\n"
      "[\\fIOPTION\\fR]... [\\fIARGUMENT\\fR]...\n"
      ".SH DESCRIPTION\n" +
      literal(own.meaning) + "\n" + options(own) + commands(table) +
      ".SH FILES\n"
      ".TP\n"
      "\\fIout/<scenario name>\\fR\n"
      "Folder of results unless \\fB\\-\\-out\\fR names another: report.html, summary.csv, summary.json, "
      "flight.h5, coil.h5, air.h5; of studies study.csv, study.json, study.h5.\n"
      ".SH ENVIRONMENT\n"
      ".TP\n"
      "\\fBNO_COLOR\\fR\n"
      "Kept: where it is set, nothing is coloured.\n"
      ".SH EXIT STATUS\n"
      ".TP\n0\nDone.\n"
      ".TP\n1\nA failure of the program or the machine.\n"
      ".TP\n2\nThe input is wrong; one sentence says what would be right.\n"
      ".TP\n130\nInterrupted; what was finished is kept, and \\fB\\-\\-resume\\fR goes on with it.\n" +
      keys() +
      ".SH CAUTIONS\n"
      "driftglow computes; it does not make a build safe. High\\-frequency fields can disturb pacemakers and "
      "other implants, flashing light can trigger seizures, resonant tanks reach several times the supply "
      "voltage, coils and parts get hot, fans need guards. Local codes, and people licensed to work by them, "
      "decide.\n";
  return text;
}

}  // namespace driftglow::program
