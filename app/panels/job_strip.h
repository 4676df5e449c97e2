#pragma once

#include <QAbstractButton>
#include <QButtonGroup>
#include <QLabel>
#include <QWidget>

#include "app/desk.h"

namespace setwright::app {

/// One station of the job: its number in a ring, its name, one line of how far it is.
class StationButton : public QAbstractButton {
    Q_OBJECT
  public:
    StationButton(int number, const QString& name, QWidget* parent = nullptr);
    void set_state(const QString& state);
    QSize sizeHint() const override;

  protected:
    void paintEvent(QPaintEvent* event) override;

  private:
    int number_;
    QString name_, state_;
};

/// The way through the job, left to right, and the next thing to do.
class JobStrip : public QWidget {
    Q_OBJECT
  public:
    explicit JobStrip(Desk& desk, QWidget* parent = nullptr);
    void set_station(int station);

  Q_SIGNALS:
    void chosen(int station);

  private:
    void pull();
    QString next() const;

    Desk& desk_;
    QButtonGroup stations_;
    QLabel* next_ = nullptr;
};

}  // namespace setwright::app
