#include <algorithm>
#include <array>
#include <cctype>
#include <set>
#include <utility>

#include "sheetloupe/errors.h"
#include "sheetloupe/io/new_folder.h"

namespace sheetloupe {
namespace {

constexpr std::array<const char*, 4> kSides = {"top", "right", "bottom", "left"};

std::string lower(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(), [](unsigned char c) { return std::tolower(c); });
  return text;
}

// The letter runs of a file's name: "Front-2 (edited).JPG" holds front and edited.
std::set<std::string> words_of(const std::filesystem::path& file) {
  std::set<std::string> words;
  std::string word;
  for (const char c : lower(file.stem().string()) + " ") {
    if (std::isalpha(static_cast<unsigned char>(c))) {
      word += c;
    } else if (!word.empty()) {
      words.insert(std::exchange(word, {}));
    }
  }
  return words;
}

// "front", "back" or "edge-top"; empty when the name tells none, or more than one.
std::string named_role(const std::filesystem::path& file) {
  const std::set<std::string> words = words_of(file);
  std::vector<std::string> roles;
  for (const char* face : {"front", "back"}) {
    if (words.contains(face)) roles.emplace_back(face);
  }
  for (const char* side : kSides) {
    if (words.contains("edge") && words.contains(side)) roles.push_back(std::string("edge-") + side);
  }
  return roles.size() == 1 ? roles[0] : "";
}

// Names as people count: IMG_9 before IMG_10.
bool name_before(const std::string& a, const std::string& b) {
  std::size_t i = 0, j = 0;
  const auto digit = [](char c) { return std::isdigit(static_cast<unsigned char>(c)) != 0; };
  while (i < a.size() && j < b.size()) {
    if (!digit(a[i]) || !digit(b[j])) {
      if (a[i] != b[j]) return a[i] < b[j];
      ++i, ++j;
      continue;
    }
    while (i < a.size() && a[i] == '0') ++i;
    while (j < b.size() && b[j] == '0') ++j;
    std::size_t m = i, n = j;
    while (m < a.size() && digit(a[m])) ++m;
    while (n < b.size() && digit(b[n])) ++n;
    if (m - i != n - j) return m - i < n - j;
    const int order = a.compare(i, m - i, b, j, n - j);
    if (order != 0) return order < 0;
    i = m, j = n;
  }
  return a.size() - i < b.size() - j;
}

using Photos = std::vector<const PhotoClue*>;

// By date where every photo tells one, else by name: a half-known order would be a made-up one.
Photos in_order(const std::vector<PhotoClue>& photos) {
  Photos order;
  for (const PhotoClue& photo : photos) order.push_back(&photo);
  const bool dated = std::all_of(order.begin(), order.end(), [](const auto* p) { return p->taken.has_value(); });
  std::stable_sort(order.begin(), order.end(), [&](const PhotoClue* a, const PhotoClue* b) {
    if (dated && *a->taken != *b->taken) return *a->taken < *b->taken;
    return name_before(a->file.filename().string(), b->file.filename().string());
  });
  return order;
}

// Builds the list, numbering the photos of a face in the order given.
class Roles {
 public:
  void face(const PhotoClue& photo, const std::string& role, const std::string& why, bool guessed) {
    const int number = role == "front" ? ++front_ : ++back_;
    add(photo, number == 1 ? role : role + "-" + std::to_string(number), why, guessed);
  }
  void edge(const PhotoClue& photo, const std::string& role, const std::string& why, bool guessed) {
    if (!edges_.insert(role).second) {
      throw InputError({"two photos for one edge", photo.file.string(), role, "one photo an edge",
                        "Leave one of them out, or rename it"});
    }
    add(photo, role, why, guessed);
  }
  bool has_edge(const std::string& role) const { return edges_.contains(role); }
  int fronts() const { return front_; }
  int backs() const { return back_; }
  std::vector<RoleProposal> take() { return std::move(list_); }

 private:
  void add(const PhotoClue& photo, const std::string& stem, const std::string& why, bool guessed) {
    list_.push_back({photo.file, stem + lower(photo.file.extension().string()), why, guessed});
  }
  std::vector<RoleProposal> list_;
  std::set<std::string> edges_;
  int front_ = 0, back_ = 0;
};

// Faces whose names say nothing. The first is the front; of two or more the last is the back, since a sheet is turned
// once; those between are more of the front. Pixels do not tell the faces apart.
void place_faces(const Photos& faces, Roles& roles) {
  for (std::size_t i = 0; i < faces.size(); ++i) {
    const bool last_of_many = i + 1 == faces.size() && (i > 0 || roles.fronts() > 0) && roles.backs() == 0;
    const bool front = !last_of_many;
    const std::string seen =
        faces[i]->markers > 0 ? std::to_string(faces[i]->markers) + " strip markers seen" : "no strips seen";
    roles.face(*faces[i], front ? "front" : "back",
               seen + (front ? ", taken before the sheet was turned" : ", taken last"), true);
  }
}

void place_edges(const Photos& edges, Roles& roles) {
  auto side = kSides.begin();
  for (const PhotoClue* photo : edges) {
    while (side != kSides.end() && roles.has_edge(std::string("edge-") + *side)) ++side;
    if (side == kSides.end()) {
      throw InputError({"more photos without strips than the sheet has edges", photo->file.string(), "",
                        "at most four, one an edge",
                        "Leave some out, or put front, back or edge-top and so on into their names"});
    }
    roles.edge(*photo, std::string("edge-") + *side, "no strips in it, so a close-up; which side is not known", true);
  }
}

}  // namespace

std::vector<RoleProposal> propose_roles(const std::vector<PhotoClue>& photos) {
  // A lone false marker turns up in cloth; a strip shows five. Three tells a strip with two markers covered.
  constexpr int kStripSeen = 3;
  const bool strips_used =
      std::any_of(photos.begin(), photos.end(), [](const PhotoClue& p) { return p.markers >= kStripSeen; });
  Roles roles;
  Photos faces, edges;
  for (const PhotoClue* photo : in_order(photos)) {
    const std::string role = named_role(photo->file);
    if (role.empty()) {
      (strips_used && photo->markers < kStripSeen ? edges : faces).push_back(photo);
    } else if (role.starts_with("edge")) {
      roles.edge(*photo, role, "by its name", false);
    } else {
      roles.face(*photo, role, "by its name", false);
    }
  }
  place_faces(faces, roles);
  place_edges(edges, roles);
  if (!photos.empty() && roles.fronts() == 0) {
    throw InputError({"no photo of the front", photos[0].file.string(), "only backs or edges",
                      "a photo of the front face", "Name one of the front face too"});
  }
  return roles.take();
}

}  // namespace sheetloupe
