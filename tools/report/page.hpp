#pragma once

#include <string>
#include <vector>

namespace driftglow::report {

// A titled part of a page; one without markup is left out.
struct PageSection {
  std::string title;
  std::string markup;
};

// One HTML file that asks for nothing from outside; its content security policy allows its own style and
// script alone, by their hashes. Well-formed XML too. `kind` and `title` are plain text; `head` and `foot`
// are markup.
std::string render_page(const std::string& kind, const std::string& title, const std::string& head,
                        const std::vector<PageSection>& sections, const std::string& foot);

}  // namespace driftglow::report
