#include "records/schema/entry.hpp"

#include <algorithm>
#include <array>
#include <charconv>

#include "core/quantity/text.hpp"
#include "records/schema/text_form.hpp"

namespace phasewright::schema {

using quantity::Fault;

namespace {

struct KindName {
    Kind kind;
    std::string_view name;
};
constexpr std::array kinds{KindName{Kind::device, "device"},
                           KindName{Kind::plan, "plan"},
                           KindName{Kind::reading, "reading"},
                           KindName{Kind::diagnosis, "diagnosis"},
                           KindName{Kind::test, "test"},
                           KindName{Kind::reference, "reference"},
                           KindName{Kind::setting_before, "setting-before"},
                           KindName{Kind::setting_after, "setting-after"},
                           KindName{Kind::photo, "photo"},
                           KindName{Kind::note, "note"},
                           KindName{Kind::signature, "signature"},
                           KindName{Kind::seal, "seal"}};

std::unexpected<Fault> refused(std::string what, std::string where, std::string found, std::string allowed) {
    return std::unexpected(
        Fault{std::move(what), std::move(where), std::move(found), std::move(allowed), {}});
}

bool is_field_name(std::string_view name) {
    constexpr std::string_view letters = "abcdefghijklmnopqrstuvwxyz0123456789.-";
    return !name.empty() && name.size() <= 64 && name.find_first_not_of(letters) == std::string_view::npos;
}

bool is_type(std::string_view type) {
    constexpr std::string_view letters = "abcdefghijklmnopqrstuvwxyz0123456789.-+/";
    return !type.empty() && type.size() <= 64 && type.find_first_not_of(letters) == std::string_view::npos;
}

template <class Number>
std::optional<Number> whole_number(std::string_view text) {
    Number value = 0;
    std::string const digits(text);
    auto const error = std::from_chars(digits.data(), digits.data() + digits.size(), value).ec;
    if (error != std::errc{} || std::to_string(value) != digits) return std::nullopt;
    return value;
}

std::string line(std::string_view key, std::string_view value) {
    return std::string(key) + " " + escaped(value) + "\n";
}

// Takes one line after the other; the first that does not fit ends it.
class Lines {
public:
    explicit Lines(std::string_view text) : rest_(text) {}
    // The value of the next line if its key is this one.
    [[nodiscard]] std::optional<std::string_view> raw(std::string_view key) {
        auto const end = rest_.find('\n');
        if (end == std::string_view::npos || !rest_.starts_with(key) || rest_.size() <= key.size() ||
            rest_[key.size()] != ' ')
            return std::nullopt;
        auto const value = rest_.substr(key.size() + 1, end - key.size() - 1);
        rest_.remove_prefix(end + 1);
        return value;
    }
    [[nodiscard]] std::optional<std::string> value(std::string_view key) {
        auto const written = raw(key);
        return written ? unescaped(*written) : std::nullopt;
    }
    [[nodiscard]] bool at_end() const { return rest_.empty(); }

private:
    std::string_view rest_;
};

std::string_view word_of(std::string_view& text) {
    auto const end = std::min(text.find(' '), text.size());
    auto const word = text.substr(0, end);
    text.remove_prefix(std::min(end + 1, text.size()));
    return word;
}

std::optional<BlobName> blob_of(std::string_view value) {
    BlobName blob;
    if (!bytes_of(word_of(value), blob.hash)) return std::nullopt;
    blob.type = word_of(value);
    auto const size = whole_number<std::uint64_t>(word_of(value));
    auto const name = unescaped(value);
    if (!size || !name) return std::nullopt;
    blob.size = *size;
    blob.name = *name;
    return blob;
}

std::optional<Field> field_in(std::string_view value) {
    auto const name = word_of(value);
    auto const meant = unescaped(value);
    if (!meant) return std::nullopt;
    return Field{std::string(name), *meant};
}

std::optional<Entry> head_of(Lines& lines) {
    Entry entry;
    auto const form = lines.raw("phasewright");
    auto const previous = lines.raw("previous");
    auto const job = lines.raw("job");
    auto const device = lines.raw("device");
    auto const number = lines.raw("number");
    auto const time = lines.raw("time");
    auto const kind = lines.raw("kind");
    if (!form || *form != "entry 1" || !previous || !bytes_of(*previous, entry.previous) || !job || !device ||
        !number || !time || !kind)
        return std::nullopt;
    auto const value = whole_number<std::uint64_t>(*number);
    auto const known = kind_of(*kind);
    if (!value || !known) return std::nullopt;
    entry.job = *job;
    entry.device = *device;
    entry.number = *value;
    entry.said.time = *time;
    entry.said.kind = *known;
    return entry;
}

}  // namespace

std::string_view name_of(Kind kind) { return std::ranges::find(kinds, kind, &KindName::kind)->name; }

std::optional<Kind> kind_of(std::string_view name) {
    auto const* const found = std::ranges::find(kinds, name, &KindName::name);
    if (found == kinds.end()) return std::nullopt;
    return found->kind;
}

std::vector<std::string> kind_names() {
    std::vector<std::string> names;
    for (auto const& one : kinds) names.emplace_back(one.name);
    return names;
}

Field number_field(std::string name, double value) { return {std::move(name), quantity::shortest(value)}; }

std::expected<Draft, Fault> in_order(Draft draft) {
    if (!instant_ms(draft.time))
        return refused("the time of an entry is not understood", "time", draft.time,
                       "2026-11-25T10:20:00+01:00");
    if (!may_stand(draft.by)) return refused("a name holds control characters or is no UTF-8", "by", {}, {});
    if (!may_stand(draft.point))
        return refused("a point's id holds control characters or is no UTF-8", "point", {}, {});
    std::ranges::sort(draft.blobs);
    std::ranges::sort(draft.fields);
    for (auto const& blob : draft.blobs)
        if (!is_type(blob.type) || !may_stand(blob.name))
            return refused("a file's type or name cannot stand in an entry", "blob", {}, {});
    for (std::size_t k = 0; k < draft.fields.size(); ++k) {
        auto const& field = draft.fields[k];
        if (!is_field_name(field.name))
            return refused("the name of a field is not one", "field", escaped(field.name),
                           "a-z, 0-9, full stop, hyphen; at most 64");
        if (!may_stand(field.value))
            return refused("a value holds control characters or is no UTF-8", field.name, {}, {});
        if (k > 0 && draft.fields[k - 1].name == field.name)
            return refused("a field stands twice in an entry", field.name, {}, "once");
    }
    return draft;
}

std::string canonical_text(Entry const& entry) {
    std::string text = "phasewright entry 1\n";
    text += "previous " + hex_of(entry.previous) + "\n";
    text += "job " + entry.job + "\n";
    text += "device " + entry.device + "\n";
    text += "number " + std::to_string(entry.number) + "\n";
    text += "time " + entry.said.time + "\n";
    text += "kind " + std::string(name_of(entry.said.kind)) + "\n";
    if (!entry.said.by.empty()) text += line("by", entry.said.by);
    if (!entry.said.point.empty()) text += line("point", entry.said.point);
    for (auto const& blob : entry.said.blobs)
        text +=
            line("blob " + hex_of(blob.hash) + " " + blob.type + " " + std::to_string(blob.size), blob.name);
    for (auto const& field : entry.said.fields) text += line("field " + field.name, field.value);
    return text;
}

std::expected<Entry, Fault> entry_of(std::string_view text) {
    auto const not_one = [] {
        return refused("the text is no entry of a record", {}, {}, "docs/reference/records.md");
    };
    if (text.size() > longest_text) return not_one();
    Lines lines(text);
    auto entry = head_of(lines);
    if (!entry || !is_hex(entry->job, 32) || !is_hex(entry->device, 32) || entry->number == 0)
        return not_one();
    if (auto const by = lines.value("by")) entry->said.by = *by;
    if (auto const point = lines.value("point")) entry->said.point = *point;
    while (auto const value = lines.raw("blob")) {
        auto const blob = blob_of(*value);
        if (!blob) return not_one();
        entry->said.blobs.push_back(*blob);
    }
    while (auto const value = lines.raw("field")) {
        auto const field = field_in(*value);
        if (!field) return not_one();
        entry->said.fields.push_back(*field);
    }
    if (!lines.at_end()) return not_one();
    auto const ordered = in_order(entry->said);
    if (!ordered || *ordered != entry->said || canonical_text(*entry) != text) return not_one();
    return *entry;
}

std::optional<std::string_view> field_of(Draft const& draft, std::string_view name) {
    auto const found = std::ranges::find(draft.fields, name, &Field::name);
    if (found == draft.fields.end()) return std::nullopt;
    return found->value;
}

}  // namespace phasewright::schema
