#include "records/schema/text_form.hpp"

#include <array>
#include <chrono>

namespace phasewright::schema {

namespace {

constexpr std::string_view digits_of_hex = "0123456789abcdef";

// How many bytes follow the first, and the least code point that so many bytes may write.
struct Lead {
    int following = 0;
    char32_t bits = 0, least = 0;
};
std::optional<Lead> lead_of(unsigned char byte) {
    if (byte < 0x80U) return Lead{0, byte, 0};
    if (byte >= 0xC2U && byte < 0xE0U) return Lead{1, byte & 0x1FU, 0x80};
    if (byte >= 0xE0U && byte < 0xF0U) return Lead{2, byte & 0x0FU, 0x800};
    if (byte >= 0xF0U && byte < 0xF5U) return Lead{3, byte & 0x07U, 0x10000};
    return std::nullopt;
}

// Reads digits of a fixed place in a time.
class Digits {
public:
    explicit Digits(std::string_view text) : text_(text) {}
    [[nodiscard]] int number(std::size_t count) {
        int value = 0;
        for (std::size_t k = 0; k < count; ++k, ++at_) {
            char const c = at_ < text_.size() ? text_[at_] : ' ';
            if (c < '0' || c > '9') bad_ = true;
            value = value * 10 + (c - '0');
        }
        return value;
    }
    void expect(char c) {
        if (!take(c)) bad_ = true;
    }
    [[nodiscard]] bool take(char c) {
        if (at_ >= text_.size() || text_[at_] != c) return false;
        ++at_;
        return true;
    }
    [[nodiscard]] bool digit_next() const {
        return at_ < text_.size() && text_[at_] >= '0' && text_[at_] <= '9';
    }
    [[nodiscard]] bool bad() const { return bad_; }
    [[nodiscard]] bool at_end() const { return at_ == text_.size(); }

private:
    std::string_view text_;
    std::size_t at_ = 0;
    bool bad_ = false;
};

std::string two(int value) {
    return {static_cast<char>('0' + value / 10 % 10), static_cast<char>('0' + value % 10)};
}

}  // namespace

bool is_utf8(std::string_view text) {
    for (std::size_t at = 0; at < text.size();) {
        auto const lead = lead_of(static_cast<unsigned char>(text[at++]));
        if (!lead) return false;
        char32_t code = lead->bits;
        for (int k = 0; k < lead->following; ++k) {
            auto const byte = at < text.size() ? static_cast<unsigned char>(text[at++]) : 0U;
            if ((byte & 0xC0U) != 0x80U) return false;
            code = (code << 6U) | (byte & 0x3FU);
        }
        if (code < lead->least || code > 0x10FFFF || (code >= 0xD800 && code <= 0xDFFF)) return false;
    }
    return true;
}

bool may_stand(std::string_view text) {
    if (!is_utf8(text)) return false;
    for (std::size_t k = 0; k < text.size(); ++k) {
        auto const byte = static_cast<unsigned char>(text[k]);
        bool const white = byte == '\n' || byte == '\r' || byte == '\t';
        if ((byte < 0x20U && !white) || byte == 0x7FU) return false;
        if (byte == 0xC2U && static_cast<unsigned char>(text[k + 1]) < 0xA0U)
            return false;  // U+0080 to U+009F
    }
    return true;
}

std::string escaped(std::string_view value) {
    std::string line;
    line.reserve(value.size());
    for (char const c : value) {
        switch (c) {
            case '\\': line += "\\\\"; break;
            case '\n': line += "\\n"; break;
            case '\r': line += "\\r"; break;
            case '\t': line += "\\t"; break;
            default: line += c;
        }
    }
    return line;
}

std::optional<std::string> unescaped(std::string_view line) {
    std::string value;
    value.reserve(line.size());
    for (std::size_t k = 0; k < line.size(); ++k) {
        if (line[k] != '\\') {
            value += line[k];
            continue;
        }
        constexpr std::string_view marks = "\\nrt", meant = "\\\n\r\t";
        auto const which = ++k < line.size() ? marks.find(line[k]) : std::string_view::npos;
        if (which == std::string_view::npos) return std::nullopt;
        value += meant[which];
    }
    if (!may_stand(value) || escaped(value) != line) return std::nullopt;
    return value;
}

std::string hex_of(std::span<unsigned char const> bytes) {
    std::string text;
    text.reserve(bytes.size() * 2);
    for (auto const byte : bytes) {
        text += digits_of_hex[byte >> 4U];
        text += digits_of_hex[byte & 0x0FU];
    }
    return text;
}

bool is_hex(std::string_view text, std::size_t digits) {
    return text.size() == digits && text.find_first_not_of(digits_of_hex) == std::string_view::npos;
}

bool bytes_of(std::string_view hex, std::span<unsigned char> bytes) {
    if (!is_hex(hex, bytes.size() * 2)) return false;
    for (std::size_t k = 0; k < bytes.size(); ++k)
        bytes[k] = static_cast<unsigned char>(digits_of_hex.find(hex[2 * k]) * 16U +
                                              digits_of_hex.find(hex[2 * k + 1]));
    return true;
}

std::optional<std::int64_t> instant_ms(std::string_view time) {
    using namespace std::chrono;
    Digits in(time);
    int const y = in.number(4);
    in.expect('-');
    int const mo = in.number(2);
    in.expect('-');
    int const d = in.number(2);
    in.expect('T');
    int const h = in.number(2);
    in.expect(':');
    int const mi = in.number(2);
    in.expect(':');
    int const s = in.number(2);
    int ms = 0;
    if (in.take('.')) {
        int scale = 100;
        if (!in.digit_next()) return std::nullopt;
        for (; in.digit_next() && scale > 0; scale /= 10) ms += in.number(1) * scale;
    }
    int offset_min = 0;
    if (!in.take('Z')) {
        int const sign = in.take('-') ? -1 : 1;
        if (sign == 1) in.expect('+');
        int const oh = in.number(2);
        in.expect(':');
        int const om = in.number(2);
        if (oh > 23 || om > 59) return std::nullopt;
        offset_min = sign * (oh * 60 + om);
    }
    auto const date = year{y} / month{static_cast<unsigned>(mo)} / day{static_cast<unsigned>(d)};
    if (in.bad() || !in.at_end() || !date.ok() || h > 23 || mi > 59 || s > 59) return std::nullopt;
    std::int64_t const days = sys_days{date}.time_since_epoch().count();
    return ((days * 24 + h) * 60 + mi - offset_min) * 60'000 + std::int64_t{s} * 1000 + ms;
}

std::string utc_time(std::int64_t instant) {
    using namespace std::chrono;
    auto const at = sys_time<milliseconds>{milliseconds{instant}};
    auto const midnight = floor<days>(at);
    year_month_day const date{midnight};
    auto const s = static_cast<int>(floor<seconds>(at - midnight).count());
    int const y = static_cast<int>(date.year());
    return two(y / 100) + two(y % 100) + "-" + two(static_cast<int>(static_cast<unsigned>(date.month()))) +
           "-" + two(static_cast<int>(static_cast<unsigned>(date.day()))) + "T" + two(s / 3600) + ":" +
           two(s / 60 % 60) + ":" + two(s % 60) + "Z";
}

}  // namespace phasewright::schema
