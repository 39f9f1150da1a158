/* hyoid for C++17: the structs of hyoid.h with constructors, memory that looks after itself, and exceptions
 * instead of status codes. Header only; nothing here does more than the C function it names.
 *
 *     hyoid::player player(48000);
 *     player.write(HYOID_ON_REQUEST, 0x1b);
 *     std::vector<float> sound = player.frames(4800);
 */
#ifndef HYOID_HYOID_HPP
#define HYOID_HYOID_HPP

#include <cstddef>
#include <cstdint>
#include <functional>
#include <memory>
#include <stdexcept>
#include <utility>
#include <vector>

#include <hyoid/hyoid.h>

namespace hyoid
{

/* A status other than HYOID_OK. */
class error : public std::runtime_error
{
  public:
    /* Takes the library's sentence for the status. */
    explicit error(hyoid_status status) : std::runtime_error(hyoid_status_text(status)), status_(status)
    {
    }
    /* The status that the C function returned. */
    hyoid_status status() const noexcept
    {
        return status_;
    }

  private:
    hyoid_status status_;
};

/* Throws hyoid::error unless status is HYOID_OK. */
inline void check(hyoid_status status)
{
    if (status != HYOID_OK) {
        throw error(status);
    }
}

/* Pins and clock cycles: hyoid_chip_*. May be copied; a copy is a snapshot. */
class chip
{
  public:
    /* The part must outlive the chip. Throws HYOID_E_PART. */
    explicit chip(const hyoid_part &part = *hyoid_part_default())
    {
        check(hyoid_chip_init(&chip_, &part));
    }
    /* hyoid_chip_reset */
    void reset()
    {
        check(hyoid_chip_reset(&chip_));
    }
    /* hyoid_chip_set_code: 6 bits */
    void set_code(unsigned code) noexcept
    {
        hyoid_chip_set_code(&chip_, code);
    }
    /* hyoid_chip_set_inflection: 2 bits */
    void set_inflection(unsigned inflection) noexcept
    {
        hyoid_chip_set_inflection(&chip_, inflection);
    }
    /* hyoid_chip_set_strobe */
    void set_strobe(bool strobe) noexcept
    {
        hyoid_chip_set_strobe(&chip_, strobe);
    }
    /* hyoid_chip_write */
    void write(unsigned code) noexcept
    {
        hyoid_chip_write(&chip_, code);
    }
    /* hyoid_chip_set_fault. Throws HYOID_E_RANGE. */
    void set_fault(hyoid_fault fault, double strength)
    {
        check(hyoid_chip_set_fault(&chip_, fault, strength));
    }
    /* hyoid_chip_step */
    void step(std::uint64_t clocks = 1) noexcept
    {
        hyoid_chip_step(&chip_, clocks);
    }
    /* All levels that the audio pin takes within `clocks`. */
    std::vector<hyoid_level> run(std::uint64_t clocks)
    {
        std::vector<hyoid_level> levels(static_cast<std::size_t>(hyoid_chip_most_levels(&chip_, clocks)));
        levels.resize(hyoid_chip_run(&chip_, clocks, levels.data(), levels.size()));
        return levels;
    }
    /* The request pin. */
    bool request() const noexcept
    {
        return hyoid_chip_request(&chip_) != 0;
    }
    /* The audio pin; 1.0 is full scale by convention. */
    double output() const noexcept
    {
        return hyoid_chip_output(&chip_);
    }
    /* Clocks so far. */
    std::uint64_t cycle() const noexcept
    {
        return chip_.cycle;
    }
    /* The C struct. */
    hyoid_chip *get() noexcept
    {
        return &chip_;
    }
    /* The C struct, for reading. */
    const hyoid_chip *get() const noexcept
    {
        return &chip_;
    }

  private:
    hyoid_chip chip_;
};

/* Host time in, host-rate samples out: hyoid_pull_*, with its ring and queue. Moves, and does not copy: use
 * snapshot(). */
class player
{
  public:
    /* What a player tells: clock cycle, host time in ps, and the code or the level. */
    using listener = std::function<void(std::uint64_t cycle, std::int64_t ps, unsigned value)>;

    /* rate in Hz. ring_room: samples that may wait, queue_room: inputs that may wait. The part must outlive the
     * player. Throws HYOID_E_RANGE, HYOID_E_PART. */
    explicit player(std::uint32_t rate, bool relaxed = false, const hyoid_part &part = *hyoid_part_default(),
                    std::size_t ring_room = 8192, std::size_t queue_room = 256)
        : body_(new body{})
    {
        body_->ring.resize(ring_room);
        body_->queue.resize(queue_room);
        hyoid_pull_setup setup = {};
        setup.part = &part;
        setup.rate = rate;
        setup.relaxed = relaxed ? 1 : 0;
        setup.ring = body_->ring.data();
        setup.ring_room = ring_room;
        setup.queue = body_->queue.data();
        setup.queue_room = queue_room;
        setup.observer.user = body_.get();
        setup.observer.latch = [](void *user, std::uint64_t cycle, std::int64_t ps, unsigned code) {
            tell(static_cast<body *>(user)->latch, cycle, ps, code);
        };
        setup.observer.request = [](void *user, std::uint64_t cycle, std::int64_t ps, int level) {
            tell(static_cast<body *>(user)->request, cycle, ps, static_cast<unsigned>(level));
        };
        check(hyoid_pull_init(&body_->pull, &setup));
    }
    /* Called at each latch, with the code. Must neither throw nor call back. */
    void on_latch(listener to)
    {
        body_->latch = std::move(to);
    }
    /* Called at each change of request, with its level. Must neither throw nor call back. */
    void on_request(listener to)
    {
        body_->request = std::move(to);
    }
    /* hyoid_pull_reset */
    void reset()
    {
        check(hyoid_pull_reset(&body_->pull));
    }
    /* hyoid_pull_write */
    void write(std::int64_t ps, unsigned code)
    {
        check(hyoid_pull_write(&body_->pull, ps, code));
    }
    /* hyoid_pull_set_code */
    void set_code(std::int64_t ps, unsigned code)
    {
        check(hyoid_pull_set_code(&body_->pull, ps, code));
    }
    /* hyoid_pull_set_strobe */
    void set_strobe(std::int64_t ps, bool strobe)
    {
        check(hyoid_pull_set_strobe(&body_->pull, ps, strobe));
    }
    /* hyoid_pull_set_inflection */
    void set_inflection(std::int64_t ps, unsigned inflection)
    {
        check(hyoid_pull_set_inflection(&body_->pull, ps, inflection));
    }
    /* hyoid_pull_set_clock: Hz */
    void set_clock(std::int64_t ps, double hz)
    {
        check(hyoid_pull_set_clock(&body_->pull, ps, hz));
    }
    /* hyoid_pull_glide_clock: Hz */
    void glide_clock(std::int64_t ps, std::int64_t end_ps, double hz)
    {
        check(hyoid_pull_glide_clock(&body_->pull, ps, end_ps, hz));
    }
    /* hyoid_pull_frames into the caller's memory. */
    void frames(float *out, std::size_t count)
    {
        check(hyoid_pull_frames(&body_->pull, out, count));
    }
    /* The next `count` samples. */
    std::vector<float> frames(std::size_t count)
    {
        std::vector<float> out(count);
        frames(out.data(), count);
        return out;
    }
    /* hyoid_pull_run */
    void run(std::int64_t ps)
    {
        check(hyoid_pull_run(&body_->pull, ps));
    }
    /* hyoid_pull_run_to_request; -1 if the limit was reached first. */
    std::int64_t run_to_request(std::int64_t limit_ps)
    {
        std::int64_t reached = -1;
        check(hyoid_pull_run_to_request(&body_->pull, limit_ps, &reached));
        return reached;
    }
    /* hyoid_pull_request_at */
    bool request_at(std::int64_t ps) const
    {
        int level = 0;
        check(hyoid_pull_request_at(&body_->pull, ps, &level));
        return level != 0;
    }
    /* hyoid_pull_ready */
    std::size_t ready() const noexcept
    {
        return hyoid_pull_ready(&body_->pull);
    }
    /* hyoid_pull_position */
    std::uint64_t position() const noexcept
    {
        return hyoid_pull_position(&body_->pull);
    }
    /* The whole state as bytes. */
    std::vector<std::uint8_t> snapshot() const
    {
        std::vector<std::uint8_t> bytes(hyoid_pull_snapshot_size(&body_->pull));
        bytes.resize(hyoid_pull_snapshot_write(&body_->pull, bytes.data(), bytes.size()));
        return bytes;
    }
    /* hyoid_pull_snapshot_read. Throws HYOID_E_SNAPSHOT, HYOID_E_FULL. */
    void restore(const std::vector<std::uint8_t> &bytes)
    {
        check(hyoid_pull_snapshot_read(&body_->pull, bytes.data(), bytes.size()));
    }
    /* The C struct. */
    hyoid_pull *get() noexcept
    {
        return &body_->pull;
    }
    /* The C struct, for reading. */
    const hyoid_pull *get() const noexcept
    {
        return &body_->pull;
    }

  private:
    struct body {
        hyoid_pull pull;
        std::vector<float> ring;
        std::vector<hyoid_input> queue;
        listener latch, request;
    };

    static void tell(const listener &to, std::uint64_t cycle, std::int64_t ps, unsigned value)
    {
        if (to) {
            to(cycle, ps, value);
        }
    }

    std::unique_ptr<body> body_;
};

} // namespace hyoid

#endif
