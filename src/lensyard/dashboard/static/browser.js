// Keeps cookies for the next visit: kit and the like, never anything of the game.

const YEAR_S = 31536000;

export default function (component) {
  const secure = location.protocol === "https:" ? "; Secure" : "";
  for (const [name, value] of component.data) {
    const wanted = `${name}=${value}`;
    if (document.cookie.split("; ").includes(wanted)) continue;
    document.cookie = `${wanted}; Max-Age=${YEAR_S}; Path=/; SameSite=Strict${secure}`;
  }
}
