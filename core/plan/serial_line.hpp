// A serial line as it is planned, and how long a character and a silence last on it.
//   one character = start bit + 8 data bits + parity bit (if any) + stop bits
//   t1.5, t3.5    = 1.5 and 3.5 characters; above 19 200 bit/s fixed at 750 us and 1.750 ms
// A frame ends with a silence of t3.5; a silence above t1.5 inside a frame breaks it.
// Source: MODBUS over Serial Line V1.02, clauses 2.5.1 and 2.5.1.1. The specification's character always has 11 bits
// (without parity, two stop bits); devices with 10 (8N1) are common practice, no source.
#pragma once
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace phasewright::plan {

enum class Parity { even, odd, none };
[[nodiscard]] std::string_view name_of(Parity parity);  // "even"
[[nodiscard]] std::optional<Parity> parity_of(std::string_view name);

struct SerialFormat {
    int bit_rate = 19200;
    Parity parity = Parity::even;
    int stop_bits = 1;  // 1 or 2; the specification wants 2 without parity
    friend bool operator==(SerialFormat const&, SerialFormat const&) = default;
};
[[nodiscard]] std::string words_of(SerialFormat const& format);  // "19200 8E1"

[[nodiscard]] int bits_of_character(SerialFormat const& format);        // 10, 11 or 12
[[nodiscard]] double character_s(SerialFormat const& format);           // seconds
[[nodiscard]] double longest_gap_inside_s(SerialFormat const& format);  // t1.5
[[nodiscard]] double silence_between_s(SerialFormat const& format);     // t3.5

// The letters or signs beside the two terminals of a pair, as a device prints them. D1 is positive while the line is
// idle; what is printed beside it differs from maker to maker and is never trusted against a voltmeter.
struct PairLabels {
    std::string d1;
    std::string d0;
    friend bool operator==(PairLabels const&, PairLabels const&) = default;
};

// One RS-485 pair and the adapter or gateway at its head. Points stand on it in the order of their `position`.
struct SerialLine {
    std::string id;
    std::string name;
    std::string device;  // "/dev/ttyUSB0"; empty: known only once it has started
    SerialFormat format;
    int answer_timeout_ms = 1000;  // the specification: one to several seconds at 9600 bit/s
    double length_m = 0.0;         // of the trunk; 0 when not known
    std::optional<std::vector<int>> terminators;  // positions that have one; 0 is the head; empty: not said
    std::optional<int> bias_at;                   // the position that biases the pair; 0 is the head
    std::optional<PairLabels> labels;             // of the head
    std::string cable;                            // for people: "shielded pair and common, 120 ohm"
    std::string panel;                            // id of the panel at which its head stands; empty when not said
    friend bool operator==(SerialLine const&, SerialLine const&) = default;
};

}  // namespace phasewright::plan
